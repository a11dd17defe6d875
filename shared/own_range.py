"""A member's own range: bounds of the counted angle, for both sides or for one, and the checks they make."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, get_args

from pydantic import Field, model_validator

from shared.definition import Strict
from shared.exercise import CheckSpec, Exercise, Source
from shared.faults import OWN_RANGE
from shared.keypoints import Side
from shared.limit import Limit

#: Kinds of signals that a range in degrees can bound.
ANGLES = ("joint_angle", "arm_horizontal", "trunk_pitch", "upper_arm_elevation")
SOURCE = Source(
    kind="common practice", cite="no published source; set for this member by trainer or clinician"
)
#: What a check of a limit is called behind the limb, and where that is not known.
PAST_ITS, PAST_THEIR = " past its own limit", " past their own limit"
#: The measure of a limit of a side that a clip does not show by itself.
OTHER_SIDE = "other_side"
OWN_RANGE_TITLE = "Past the member's own limit"
#: What going past a bound is called, by the kind of the counted signal.
_WENT = {
    ("joint_angle", "max"): "straightened past", ("joint_angle", "min"): "bent past",
    ("arm_horizontal", "max"): "opened past", ("arm_horizontal", "min"): "came in past",
}  # fmt: skip
TALK_FIRST = "Talk to your trainer before the next set."
SIDES: tuple[Side, ...] = get_args(Side)
Degrees = Annotated[float, Field(ge=-60, le=230)]


class Range(Strict):
    """Bounds of the drive in degrees: a knee that stays above 100, a fly that opens no wider than 60."""

    at_least: Degrees | None = None
    at_most: Degrees | None = None

    @model_validator(mode="after")
    def _sensible(self) -> Range:
        if self.at_least is None and self.at_most is None:
            raise ValueError("give at_least, at_most or both")
        if self.at_least is not None and self.at_most is not None and self.at_least >= self.at_most:
            raise ValueError("at_least must be smaller than at_most")
        return self


def limb(exercise: Exercise) -> str:
    """What a range bounds: ``knee``, ``elbow``, ``arm``."""
    return exercise.drive_joint or exercise.drive.signal.removesuffix("s")


def range_checks(
    exercise: Exercise, ranges: Mapping[Side, Range | None], side: Side | None
) -> Iterator[CheckSpec]:
    """The checks that hold a member to the range of the side that a clip shows.

    side: None where a clip shows both sides as one. A range of a side that is not shown by itself is told as
    what this view cannot show.
    """
    alike = ranges["left"] == ranges["right"]
    judged = side or ("left" if alike else None)
    bounds = ranges[judged] if judged else None
    if bounds is not None:
        yield from _bounds(exercise, bounds, of=None if alike else judged)
    for other in SIDES:
        if not alike and other != judged and ranges[other] is not None:
            yield _not_shown(exercise, ranges[other], side=other)


def _bounds(exercise: Exercise, bounds: Range, of: Side | None) -> Iterator[CheckSpec]:
    """A check for each bound: the smallest or the largest angle, at the end where it is reached."""
    rising = exercise.drive.lift == "rising"
    for bound, which, end in (
        ("at_least", "min", "load-down-end" if rising else "lift-end"),
        ("at_most", "max", "lift-end" if rising else "load-down-end"),
    ):
        value = getattr(bounds, bound)
        if value is not None:
            yield _bound(exercise, Limit(**{bound: value}), which=which, end=end, of=of)


def _bound(exercise: Exercise, limit: Limit, which: str, end: str, of: Side | None) -> CheckSpec:
    name = exercise.drive.signal
    title, prompt = _told(exercise, limit, which, of)
    return CheckSpec(
        id=f"{OWN_RANGE}{which}",
        title=title,
        measure="angle_at_end",
        signal=name,
        views=tuple(view.name for view in exercise.views),
        params={"end": end, "which": which},
        limit=limit,
        unit="deg",
        max_uncertainty=20.0,
        detect_margin=12.0,
        partial=True,
        what=f"{'Largest' if which == 'max' else 'Smallest'} {name} angle at that end of each repetition.",
        why="This range was agreed for this member; beyond it trainer or clinician wanted no load.",
        cannot_tell="Needs the whole limb in the picture, from the exercise's own view.",
        prompt=prompt,
        source=SOURCE,
    )


def _told(exercise: Exercise, limit: Limit, which: str, of: Side | None) -> tuple[str, str]:
    """Title and prompt: ``Left knee past its own limit``, ``Stop sooner with your left knee: ...``."""
    bound = limit.at_most if which == "max" else limit.at_least
    stop = f"your limit of {bound:g} degrees. {TALK_FIRST}"
    went = _WENT.get((exercise.signals[exercise.drive.signal].kind, which))
    if went is None:
        return OWN_RANGE_TITLE, f"Stop sooner: you went past {stop}"
    part, it = (f"{of} {limb(exercise)}", "it") if of else (f"{limb(exercise)}s", "they")
    title = f"{part}{PAST_ITS if of else PAST_THEIR}"
    return f"{title[:1].upper()}{title[1:]}", f"Stop sooner with your {part}: {it} {went} {stop}"


def _not_shown(exercise: Exercise, bounds: Range | None, side: Side) -> CheckSpec:
    assert bounds is not None
    return CheckSpec(
        id=f"{OWN_RANGE}{side}",
        title=f"The {side} {limb(exercise)}'s own limit",
        measure=OTHER_SIDE,
        params={"side": side},
        limit=Limit(at_least=bounds.at_least, at_most=bounds.at_most),
        unit="deg",
        max_uncertainty=20.0,
        detect_margin=12.0,
        what=f"Whether the {side} {limb(exercise)} keeps the range that was agreed for that side alone.",
        why="This range was agreed for this member; beyond it trainer or clinician wanted no load.",
        cannot_tell="Needs a clip from that side: from elsewhere it is not seen by itself.",
        source=SOURCE,
    )
