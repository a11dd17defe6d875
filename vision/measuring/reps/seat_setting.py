"""Whether somebody sets up a machine's seat instead of training on it."""

from __future__ import annotations

from shared.domain import Floats, Landmarks
from vision.measuring.reps.sittings import find_bouts, find_sittings, mostly_bent_over


def only_sets_up(survey: Landmarks, poses_px: Floats) -> bool:
    """Whether who is seen in poses (M, 33, 2) px mostly bends over, and nobody there sits and trains."""
    return mostly_bent_over(poses_px) and not find_bouts(survey, find_sittings(survey))
