"""The limit that a settings card gives in degrees: what it is called, and which checks it bounds."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shared.exercise import Exercise
from shared.member import ANGLES, Member, Own, Range, with_member

#: How the two bounds of an angle are called, by the kind of the counted signal; None: nobody needs it.
_PHRASES: dict[str, tuple[str | None, str]] = {
    "joint_angle": ("no more bent than", "no straighter than"),
    "arm_horizontal": (None, "no wider than"),
}
_DEGREES = re.compile(r"\d\s*(°|deg)", re.IGNORECASE)


@dataclass(frozen=True)
class CardLimit:
    """Bounds of the counted angle in degrees; side: left or right where it holds for one side alone."""

    at_least_deg: float | None = None
    at_most_deg: float | None = None
    side: str | None = None

    def range(self, working: str | None = None) -> Range | None:
        """As the checks take it; None without a number, or where only the other side worked."""
        other = self.side is not None and working is not None and working != self.side
        if other or (self.at_least_deg is None and self.at_most_deg is None):
            return None
        return Range(at_least=self.at_least_deg, at_most=self.at_most_deg)


def phrases(exercise: Exercise) -> dict[str, str]:
    """``{at_most_deg: no straighter than}``: the bounds that a card of this machine may give, in words."""
    kind = exercise.signals[exercise.drive.signal].kind
    if kind not in ANGLES:
        return {}
    low, high = _PHRASES.get(kind, ("at least", "at most"))
    return {"at_least_deg": low, "at_most_deg": high} if low else {"at_most_deg": high}


def limb(exercise: Exercise) -> str:
    """What a card's limit is about: ``knee``, ``elbow``, ``arm``."""
    return exercise.drive_joint or exercise.drive.signal.removesuffix("s")


def limit_words(limit: CardLimit, exercise: Exercise | None) -> str:
    """``Left knee no straighter than 150 degrees``; empty without a number."""
    bounds = {"at_least_deg": limit.at_least_deg, "at_most_deg": limit.at_most_deg}
    names = phrases(exercise) if exercise else {"at_least_deg": "at least", "at_most_deg": "at most"}
    said = [
        f"{names.get(key, 'at least')} {value:g} degrees"
        for key, value in bounds.items()
        if value is not None
    ]
    if not said:
        return ""
    of = f"{limit.side or ''} {limb(exercise) if exercise else 'angle'} {' and '.join(said)}".strip()
    return of[0].upper() + of[1:]


def as_for(exercise: Exercise, limit: CardLimit) -> Exercise:
    """The exercise as the card's numbers bound it."""
    own = Own(range=limit.range())
    return with_member(exercise, Member(exercises={exercise.name: own}))


def number_in_words(text: str) -> bool:
    """Whether a limit in words names degrees: no check knows of them."""
    return _DEGREES.search(text) is not None
