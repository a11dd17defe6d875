"""What the member is told of a flag: the check's cue, with its number where that helps."""

from __future__ import annotations

from shared.domain import Unit, Verdict
from shared.exercise import NUMBERED, CheckSpec
from vision.common.quantities import Bound, quantity

#: A number uncertain by more than this share of itself is not told to a member.
MOST_UNSURE = 0.2


def for_member(value: float, uncertainty: float, unit: Unit, against: Bound = None) -> str | None:
    """A number as a member reads it, ``6 cm`` or ``0.6 seconds``; None where it would not help them.

    Left out are shares (percent, ratios), lengths without a body height, values below zero, and what is
    uncertain by more than ``MOST_UNSURE`` of itself. against: see ``quantity``.
    """
    if unit in ("%", "ratio", "trunk_fraction") or value <= 0 or uncertainty > MOST_UNSURE * value:
        return None
    return f"{value:.0f} cm" if unit == "cm" else quantity(value, unit, against)


def member_prompt(
    spec: CheckSpec,
    verdict: Verdict,
    measured: float | None,
    uncertainty: float | None,
    unit: Unit | None = None,
) -> str | None:
    """What the member is told: for a flag the check's cue, with its number where that is fit for them.

    unit: that of the measured value, where a length came out in another one than the check's.
    """
    if verdict != "flag" or spec.prompt is None or measured is None or uncertainty is None:
        return None
    said = for_member(measured, uncertainty, unit=unit or spec.unit, against=spec.limit.resolved(in_cm=True))
    return NUMBERED.sub(lambda part: part[1].replace("{value}", said) if said else "", spec.prompt)
