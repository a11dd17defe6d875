"""Whether a clip begins or ends inside a repetition, which then is not counted."""

from __future__ import annotations

import numpy as np

from shared.domain import RepSet, Signal

#: A repetition was under way where the drive had risen by this share of the usual range.
UNDER_WAY = 0.35
#: The clip's first and last look lie this near to its ends, s.
AT_EDGE_S = 0.5
#: A limb that was merely held up there, longer than this, was in no repetition, s.
LONGEST_S = 6.0
BEGINS = (
    "The clip begins in the middle of a repetition: that one is not counted. Start filming before the first "
    "repetition."
)
ENDS = (
    "The clip ends in the middle of a repetition: that one is not counted. Film until the load has come to "
    "rest."
)


def cut_ends(drive: Signal, reps: RepSet, rising: bool) -> list[str]:
    """A note for each end of the clip that cuts a repetition.

    drive (T,): NaN where the body does not belong to the set. reps: what was found.
    """
    known = ~np.isnan(drive.values)
    load, time_s = (drive.values if rising else -drive.values)[known], drive.time_s[known]
    sign = 1.0 if rising else -1.0
    low = sign * float(np.median([rep.at_load_down for rep in reps.full]))
    up = load - low > UNDER_WAY * reps.usual_range
    notes = []
    before, after = up & (time_s < reps.start_s), up & (time_s > reps.end_s)
    if before.any() and before[0] and time_s[0] - drive.time_s[0] < AT_EDGE_S:
        notes += [BEGINS] if _brief(before, time_s) else []
    if after.any() and after[-1] and drive.time_s[-1] - time_s[-1] < AT_EDGE_S:
        notes += [ENDS] if _brief(after[::-1], time_s[-1] - time_s[::-1]) else []
    return notes


def _brief(up: np.ndarray, since_s: np.ndarray) -> bool:
    """Whether the limb comes down again soon from the edge at which both arrays begin."""
    down = np.flatnonzero(~up)
    return bool(len(down)) and float(since_s[down[0]] - since_s[0]) <= LONGEST_S
