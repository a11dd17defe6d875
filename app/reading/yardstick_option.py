"""The options that say whose set it is: body height, the member's own limits, an approved set."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

from shared.errors import UsageError

if TYPE_CHECKING:
    from shared.exercise import Exercise
    from shared.member import Member
    from vision.judging.approved import Reference

LOW_CM, HIGH_CM = 100, 230


def height(height_cm: float | None) -> float | None:
    """A body height in cm, or none; UsageError for what is no body height."""
    if height_cm is not None and not (math.isfinite(height_cm) and LOW_CM <= height_cm <= HIGH_CM):
        raise UsageError(f"--height-cm {height_cm:g} is no body height; give one from {LOW_CM} to {HIGH_CM}.")
    return height_cm


def yardsticks(
    definition: Exercise, member: Path | None, reference: Path | None
) -> tuple[Member | None, Reference | None]:
    """The member's limits and the approved set; a reference of one's own comes before the member's.

    Raises
    ------
    DefinitionError : a file cannot be read, or breaks its rules.
    """
    from shared.member import read_member
    from vision.judging.approved import load_reference

    own = None if member is None else read_member(member, definition)
    if reference is None and member is not None and own is not None:
        beside = own.own(definition.name).reference
        reference = None if beside is None else member.parent / beside
    return own, None if reference is None else load_reference(reference, definition)
