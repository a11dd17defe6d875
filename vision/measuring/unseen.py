"""A turn that nobody saw: somebody passed, and the limb comes back when it is seen again.

Over a gap the drive is passed in a straight line, and two repetitions become one. Where the limb went
one way before a gap and the other way after it, and had the time to get to the set's usual end in between,
it turned there. When it turned stays a guess: what hangs on the hidden part is not judged anyway.
"""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, RepSet
from vision.measuring.filters import runs

#: A longer gap may hide more than one turn, s.
LONGEST_S = 2.0
#: Which way the limb went is told from so many seconds beside the gap ...
BESIDE_S = 0.3
#: ... and only where it moved by this share of the usual range a second: in a hold nobody knows.
LEAST_SPEED = 0.15


def with_unseen_turns(drive: Floats, time_s: Floats, reps: RepSet) -> Floats:
    """The drive (T,) with its turns in gaps at the set's usual ends; all other gaps stay NaN.

    time_s (T,) s, uniform; reps: the set as it is found without them.
    """
    ends = np.array([(rep.lift_end_deg, rep.load_down_deg) for rep in reps.full])
    lowest, highest = np.sort(np.median(ends, axis=0))
    slowest = LEAST_SPEED * reps.usual_range
    out = drive.copy()
    for start, stop in runs(np.isnan(drive)):
        if start == 0 or stop == len(drive) or time_s[stop] - time_s[start - 1] > LONGEST_S:
            continue
        edges = [start - 1, stop]
        before = _speed(drive[:start], time_s[:start])
        after = -_speed(drive[: stop - 1 : -1], -time_s[: stop - 1 : -1])
        if not (abs(before) >= slowest and abs(after) >= slowest and before * after < 0):
            continue
        level = highest if before > 0 else lowest
        away = np.maximum(0.0, np.sign(before) * (level - drive[edges]))
        needed = away / np.abs([before, after])
        gap_s = time_s[stop] - time_s[start - 1]
        if 0.0 < needed.sum() <= gap_s:
            turn_s = time_s[start - 1] + gap_s * needed[0] / needed.sum()
            course = [drive[start - 1], level, drive[stop]]
            out[start:stop] = np.interp(time_s[start:stop], [time_s[start - 1], turn_s, time_s[stop]], course)
    return out


def _speed(drive: Floats, time_s: Floats) -> float:
    """Units a second over the last ``BESIDE_S``; 0 where too little of it is known."""
    beside = np.flatnonzero((time_s >= time_s[-1] - BESIDE_S) & ~np.isnan(drive))
    if len(beside) < 3:
        return 0.0
    return float(np.polyfit(time_s[beside], drive[beside], 1)[0])
