"""What the survey alone shows of the subject, in the rows of a close look: the first words are told by it.

A survey finds everyone a few times a second, and leaves out frames in which nobody stirs; in between the
subject's points are taken to move straight on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Floats, Landmarks
from vision.seeing.follow import pick
from vision.seeing.look import LANDMARK_STEP_S, Seen

#: Over a longer gap nobody is taken to have moved straight on, s: two steps of a survey that left one out.
GAP_S = 0.65
FEWEST = 10


def early(seen: Seen) -> Seen | None:
    """What was seen with the subject's surveyed poses as its close look; None where there are hardly any."""
    if seen.subject is None:
        return None
    own = pick(seen.survey, seen.subject)
    found = ~np.isnan(own.image_px[:, 0, :, 0]).all(axis=1)
    if found.sum() < FEWEST:
        return None
    time_s = own.time_s[found]
    clock = np.arange(time_s[0], time_s[-1], LANDMARK_STEP_S)
    after = np.clip(np.searchsorted(time_s, clock, side="right"), 1, len(time_s) - 1)
    gap = time_s[after] - time_s[after - 1] > GAP_S

    def on_clock(values: Floats) -> Floats:
        rows = values[found].reshape(len(time_s), -1)
        out = np.column_stack([np.interp(clock, time_s, column) for column in rows.T])
        out[gap] = np.nan
        return out.reshape(len(clock), *values.shape[1:])

    dense = Landmarks(
        np.interp(clock, own.time_s, own.frame).round().astype(np.int64), clock,
        image_px=on_clock(own.image_px), world_m=on_clock(own.world_m),
        visibility=on_clock(own.visibility), presence=on_clock(own.presence), model=own.model,
    )  # fmt: skip
    return replace(seen, dense=dense)
