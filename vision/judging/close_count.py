"""Repetitions so near the line between a full and a short one that the count hangs on the camera."""

from __future__ import annotations

import numpy as np

from shared.drive import FULL_SHARE
from vision.common.quantities import numbered
from vision.judging.check import Context

CLOSE = (
    "{where} came close to the line between a full and a short repetition: look at the clip before you rely "
    "on the count."
)


def close_counts(ctx: Context) -> list[str]:
    """One note that names them; none where there are none."""
    half = ctx.learnt.range_percent / 100.0
    close = [
        rep.number
        for rep in ctx.reps.reps
        if abs(rep.range_share - FULL_SHARE) < np.hypot(half, rep.range_unsure)
    ]
    return [CLOSE.format(where=numbered(close).capitalize())] if close else []
