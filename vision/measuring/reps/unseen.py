"""What nobody saw of a set: somebody passed, and the limb comes back when it is seen again.

Over a gap the drive is passed in a straight line, and two repetitions become one. Where the limb went
one way before a gap and the other way after it, and had the time to get to the set's usual end in between,
it turned there. When it turned stays a guess: what hangs on the hidden part is not judged anyway.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Floats, RepSet, Signal
from vision.measuring.track.filters import runs

#: A longer gap may hide more than one turn, s.
LONGEST_S = 2.0
#: Which way the limb went is told from so many seconds beside the gap ...
BESIDE_S = 0.3
#: ... where it moved by this share of the usual range a second; slower it rests at an end, this near to it,
#: from which there is one way only.
LEAST_SPEED, NEAR_END = 0.15, 0.15
#: A repetition has room in a gap that lasts for this share of the usual one.
ROOM = 0.5
MAY_BE_MISSING = (
    "Between repetitions {before} and {after} the limb could not be seen for {gap_s:.1f} s: a repetition "
    "done there is not counted."
)


def with_unseen_turns(drive: Floats, time_s: Floats, reps: RepSet) -> Floats:
    """The drive (T,) with its turns in gaps at the set's usual ends; all other gaps stay NaN.

    time_s (T,) s, uniform; reps: the set as it is found without them.
    """
    out = drive.copy()
    for start, stop in runs(np.isnan(drive)):
        if start == 0 or stop == len(drive):
            continue
        edges, gap_s = drive[[start - 1, stop]], time_s[stop] - time_s[start - 1]
        if gap_s > LONGEST_S:
            continue
        slopes = _slope(drive[:start], time_s[:start]), _slope(drive[stop:], time_s[stop:], first=True)
        if (turn := _turn(edges, slopes, gap_s, reps)) is not None:
            moments = time_s[start - 1] + np.array([0.0, turn[0], gap_s])
            out[start:stop] = np.interp(time_s[start:stop], moments, [edges[0], turn[1], edges[1]])
    return out


def _turn(
    edges: Floats, slopes: tuple[float, float], gap_s: float, reps: RepSet
) -> tuple[float, float] | None:
    """When, s after a gap's beginning, and where the limb turned in it; None where it need not have.

    edges (2,): the drive beside the gap; slopes: units a second there, 0 where that is not known.
    """
    ends = np.median([(rep.at_lift_end, rep.at_load_down) for rep in reps.full], axis=0)
    phase_s = np.median([seconds for rep in reps.full for seconds in (rep.lift_s, rep.lower_s)])
    at_rest = np.abs(slopes) < LEAST_SPEED * reps.usual_range
    if at_rest.all():
        return None
    off = np.abs(edges[:, None] - [ends.min(), ends.max()])
    if (at_rest & (off.min(axis=1) > NEAR_END * reps.usual_range)).any():
        return None
    inward = np.where(off[:, 1] < off[:, 0], -1.0, 1.0)
    # In the middle of a phase a limb is about twice as fast as it is on the whole. From a rest before the gap
    # it goes, to one after it it came.
    usual_speed = reps.usual_range / phase_s
    from_rest = 2.0 * usual_speed * inward * [1.0, -1.0]
    before, after = np.where(at_rest, from_rest, slopes)
    level = ends.max() if before > 0 else ends.min()
    speeds = np.maximum(np.abs([before, after]), usual_speed)
    needed = np.maximum(0.0, np.sign(before) * (level - edges)) / speeds
    if before * after >= 0 or not 0.0 < needed.sum() <= gap_s:
        return None
    return gap_s * needed[0] / needed.sum(), float(level)


def _slope(drive: Floats, time_s: Floats, first: bool = False) -> float:
    """Units a second over the last ``BESIDE_S`` of a part, or over its first; 0 where too little is known."""
    inside = time_s <= time_s[0] + BESIDE_S if first else time_s >= time_s[-1] - BESIDE_S
    beside = np.flatnonzero(inside & ~np.isnan(drive))
    return float(np.polyfit(time_s[beside], drive[beside], 1)[0]) if len(beside) >= 3 else 0.0


def without_unseen_rests(reps: RepSet, drive: Signal) -> tuple[RepSet, list[str]]:
    """The set without rests that were mostly not seen, and a note on each that has room for a repetition.

    drive (T,): NaN where the limb was not seen.
    """
    usual_s = float(np.median([rep.duration_s for rep in reps.full]))
    told, notes = [], []
    for rep in reps.reps:
        rest_s = rep.rest_s or 0.0
        rest = drive.between(rep.end_s, rep.end_s + rest_s)
        gap_s = rest_s * rest.missing_share if len(rest.values) else 0.0
        told.append(replace(rep, rest_s=None) if gap_s > 0.5 * rest_s else rep)
        if gap_s > ROOM * usual_s:
            notes.append(MAY_BE_MISSING.format(before=rep.number, after=rep.number + 1, gap_s=gap_s))
    return replace(reps, reps=tuple(told)), notes
