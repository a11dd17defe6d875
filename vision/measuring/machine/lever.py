"""A tag on the lever -> the lever's angle, and the axis it turns about.

The tag is a square that turns in one plane, so its diagonals in the picture are a square turned by the
lever's angle and then stretched as the camera sees that plane: the turn of the polar decomposition, and no
lens need be known. The axis is the one point that keeps its place in the tag and in the room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from shared.domain import Floats, Rep, RepSet
from vision.measuring.machine.places import still_path
from vision.seeing.marks import MarkPath
from vision.seeing.tags import TagPath

#: The lever must turn by this much for its axis to be told.
LEAST_TURN_DEG = 25.0
#: One blurred frame decides nothing: the angle is the middle one of so many.
MEDIAN_FRAMES = 7
#: Half-width of the lever's range in a repetition, degrees.
RANGE_HALF_DEG = 1.5
#: Share of a repetition in which the tag may be lost.
LOST_SHARE = 0.1
#: The angle at an end is the median over so many seconds to each side: the outermost moments are those that
#: noise moved furthest, by three degrees in a dim and blurred clip.
LEVER_END_S = 0.12


@dataclass(frozen=True)
class Lever:
    """The lever over time.

    time_s (F,) of the frames followed; angle_deg (F,): how far it is turned from where it was seen first,
    NaN where lost; axis_px (2,): what it turns about, in the first picture, NaN where it turns too little;
    range_deg: median over the full repetitions of how far it turns in each.
    """

    time_s: Floats
    angle_deg: Floats
    axis_px: Floats
    range_deg: float | None


def find_lever(path: TagPath, reps: RepSet | None) -> Lever | None:
    """The lever by its followed tag; None where it was never seen."""
    diagonals = _diagonals(path.corners_px)
    known = ~np.isnan(diagonals[:, 0, 0])
    if np.count_nonzero(known) < 3:
        return None
    angle = np.full(len(diagonals), np.nan)
    turned = median_filter(_angles(diagonals[known]), MEDIAN_FRAMES, mode="nearest")
    angle[known] = turned - turned[0]
    axis = np.full(2, np.nan)
    if np.ptp(angle[known]) >= LEAST_TURN_DEG:
        axis = _axis(path.steady_px[known], diagonals[known])
    return Lever(path.time_s, angle, axis_px=axis, range_deg=_range(path.time_s, angle, reps))


def axis_path(lever: Lever, tag: TagPath) -> MarkPath | None:
    """The axis as a marked pivot is followed, where the tag is seen; None where it is not known."""
    if np.isnan(lever.axis_px).any():
        return None
    return still_path("pivot", lever.axis_px, tag)


def _diagonals(corners: Floats) -> Floats:
    """Both diagonals as columns, (F, 2, 2)."""
    return np.stack([corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]], axis=2)


def _angles(diagonals: Floats) -> Floats:
    """Degrees (K,), without jumps: the turn in M = stretch * turn, whose stretch is alike for all frames."""
    across = diagonals[:, 1, 0] - diagonals[:, 0, 1]
    turn = np.arctan2(across, diagonals[:, 0, 0] + diagonals[:, 1, 1])
    return np.asarray(np.degrees(np.unwrap(turn)))


def _axis(middle: Floats, diagonals: Floats) -> Floats:
    """The point (2,) px with middle + M v = axis for one v in the tag and all frames, by least squares."""
    known = ~np.isnan(middle[:, 0])
    equations = np.concatenate([np.tile(np.eye(2), (known.sum(), 1, 1)), -diagonals[known]], axis=2)
    solved, *_ = np.linalg.lstsq(equations.reshape(-1, 4), middle[known].ravel(), rcond=None)
    return np.asarray(solved[:2])


def _range(time_s: Floats, angle: Floats, reps: RepSet | None) -> float | None:
    if reps is None:
        return None
    known = [r for rep in reps.full if (r := range_of(time_s, angle, rep)) is not None]
    return float(np.median(known)) if known else None


def range_of(time_s: Floats, angle: Floats, rep: Rep) -> float | None:
    """Degrees from the lift end to the further load-down end; None where the tag was lost for too long."""

    def between(start_s: float, end_s: float) -> Floats:
        return angle[(time_s >= start_s) & (time_s <= end_s)]

    whole = between(rep.start_s, rep.end_s)
    spans = ((rep.turn_s, rep.lower_start_s), (rep.start_s, rep.start_s), (rep.end_s, rep.end_s))
    ends = [between(a - LEVER_END_S, b + LEVER_END_S) for a, b in spans]
    if not len(whole) or np.isnan(whole).mean() > LOST_SHARE or any(np.isnan(end).all() for end in ends):
        return None
    lift, first, last = (float(np.nanmedian(end)) for end in ends)
    return max(abs(lift - first), abs(lift - last))
