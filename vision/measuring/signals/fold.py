"""An angle seen from the front does not fold where an arm passes the body's plane.

From the front or the rear a hand that goes on behind the body comes nearer to its shoulder again, as if it
came back: the angle read from the hands' gap turns round at 90 degrees, and one repetition looks like two.
Such a dip lies between two peaks at the widest that is seen, and the landmarks in space show the arms in it
at another depth than when they passed the same gap on the way out and on the way back. Only then is the dip
turned over. A dip in which they lie where they lay is what it seems, arms that came back; so is one that goes
more than half of the way to where the hands are nearest in the set, which is a repetition. Where a machine's
lift ends with the arms wide, a dip too shallow for a repetition is a fold without being asked.
"""

from __future__ import annotations

import numpy as np

from shared.domain import Floats
from vision.measuring.signals.turning_points import turning_points
from vision.measuring.track.filters import runs

#: A dip is told from the least on; the shallow are no repetition; no shoulder goes deeper than the deepest.
LEAST_DEG, SHALLOW_DEG, DEEPEST_DEG = 5.0, 25.0, 40.0
#: Both peaks lie within this of the widest seen, by their sine: near 90 degrees a little of the gap is many.
NEAR_WIDEST_SINE = 0.06
WIDEST_PERCENTILE, NARROWEST_PERCENTILE = 98, 10
#: Two looks at one pose differ by this much in trunk lengths; arms are elsewhere from so many times that on.
SAME_POSE, ELSEWHERE = 0.012, 1.0


def unfolded(angle: Floats, depth: Floats, lifts_wide: bool) -> Floats:
    """The angle (T,) in degrees with every fold at its widest turned over; NaN stays.

    depth (T, D): how far parts of the arms lie from the camera against their shoulders, in trunk lengths.
    lifts_wide: whether the lift ends with the arms wide.
    """
    out = angle.copy()
    known = ~np.isnan(angle)
    if not known.any():
        return out
    narrowest, widest = np.percentile(angle[known], [NARROWEST_PERCENTILE, WIDEST_PERCENTILE])
    for start, stop in runs(known):
        seen, where = angle[start:stop], depth[start:stop]
        turns = turning_points(seen, LEAST_DEG)
        for before, low, after in zip(turns, turns[1:], turns[2:], strict=False):
            peaks = seen[[before, after]]
            dip = float(peaks.min() - seen[low])
            near = np.diff(np.sin(np.radians([peaks.min(), widest]))) <= NEAR_WIDEST_SINE
            high = near and seen[low] >= (narrowest + widest) / 2
            if not (high and LEAST_DEG <= dip <= DEEPEST_DEG):
                continue
            shallow = lifts_wide and dip <= SHALLOW_DEG
            if shallow or _elsewhere(seen, where, (before, low, after)):
                level = np.interp(np.arange(before, after + 1), [before, after], peaks)
                out[start + before : start + after + 1] = 2 * level - seen[before : after + 1]
    return out


def _elsewhere(angle: Floats, depth: Floats, turns: tuple[int, int, int]) -> bool:
    """Whether the arms at the bottom of a dip are elsewhere than at that angle before and after it."""
    before, low, after = turns
    earlier, later = np.flatnonzero(angle[:before] <= angle[low]), np.flatnonzero(angle[after:] <= angle[low])
    same = [_at_level(angle, depth, i=earlier[-1], step=1, level=angle[low])] if len(earlier) else []
    same += [_at_level(angle, depth, i=after + later[0], step=-1, level=angle[low])] if len(later) else []
    if not same:
        return False
    apart = np.abs(same[0] - same[-1]) / 2 + SAME_POSE
    off = np.abs(depth[low] - np.mean(same, axis=0)) / apart
    return bool(np.isfinite(off).any() and np.nanmedian(off) >= ELSEWHERE)


def _at_level(angle: Floats, depth: Floats, i: int, step: int, level: float) -> Floats:
    """Depth (D,) where the angle passes a level between sample i and the next one that way."""
    share = (level - angle[i]) / (angle[i + step] - angle[i])
    return np.asarray(depth[i] + share * (depth[i + step] - depth[i]))
