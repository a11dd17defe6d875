"""The limits that a settings card gives in degrees: what they are called, and which checks they bound."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shared.exercise import Exercise
from shared.member import Member, Own, with_member
from shared.own_range import ANGLES, Range, limb

#: How the two bounds of an angle are called, by the kind of the counted signal; None: nobody needs it.
_PHRASES: dict[str, tuple[str | None, str]] = {
    "joint_angle": ("no more bent than", "no straighter than"),
    "arm_horizontal": (None, "no wider than"),
}
_DEGREES = re.compile(r"\d\s*(°|deg)", re.IGNORECASE)


@dataclass(frozen=True)
class CardLimit:
    """Bounds of the counted angle in degrees, by side; None for a side without."""

    left: Range | None = None
    right: Range | None = None

    def bounds(self, working: str | None = None) -> dict[str, Range]:
        """As a member's own: ``{range: ...}`` for both sides or the only one that worked, else by side."""
        of = {"left": self.left, "right": self.right}
        if working in of or self.left == self.right:
            one = of[working or "left"]
            return {"range": one} if one else {}
        return {side: one for side, one in of.items() if one}


def phrases(exercise: Exercise) -> dict[str, str]:
    """``{at_most_deg: no straighter than}``: the bounds that a card of this machine may give, in words."""
    kind = exercise.signals[exercise.drive.signal].kind
    if kind not in ANGLES:
        return {}
    low, high = _PHRASES.get(kind, ("at least", "at most"))
    return {"at_least_deg": low, "at_most_deg": high} if low else {"at_most_deg": high}


def limit_words(limit: CardLimit, exercise: Exercise | None) -> str:
    """``Left knee no straighter than 150 degrees``; empty without a number."""
    names = phrases(exercise) if exercise else {"at_least_deg": "at least", "at_most_deg": "at most"}
    said = []
    for side, bounds in limit.bounds().items():
        both = {"at_least_deg": bounds.at_least, "at_most_deg": bounds.at_most}
        of = f"{'' if side == 'range' else side} {limb(exercise) if exercise else 'angle'}".strip()
        told = [
            f"{names.get(k, 'at least')} {value:g} degrees" for k, value in both.items() if value is not None
        ]
        said.append(f"{of} {' and '.join(told)}")
    words = ", ".join(said)
    return words[:1].upper() + words[1:]


def as_for(exercise: Exercise, limit: CardLimit) -> Exercise:
    """The exercise as the card's numbers bound it, on whichever side."""
    for bounds in (limit.left, limit.right):
        exercise = with_member(exercise, Member(exercises={exercise.name: Own(range=bounds)}))
    return exercise


def number_in_words(text: str) -> bool:
    """Whether a limit in words names degrees: no check knows of them."""
    return _DEGREES.search(text) is not None
