"""Trunk and hips against the back pad, both ends of which were pointed at: known from the first moment."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Signal, Signals, Track, Unit
from vision.common.geometry import distance, from_vertical
from vision.measuring.learnt.uncertainty import LENGTH_HALF_TRUNK, PITCH_HALF_DEG, in_unit, moment_half_width
from vision.measuring.machine.load import cm_per_px
from vision.measuring.machine.places import half_cm
from vision.seeing.marks import MarkPath

#: Trunk lengths from the pad to the joint of a hip that sits against it, and how far people differ: about
#: 12 and 3 cm of 50 (common practice, no published source).
AGAINST_TRUNK, PEOPLE_TRUNK = 0.24, 0.06


def pad_signals(one: MarkPath, other: MarkPath, track: Track) -> Signals:
    """Two signals on the track's clock (T,), NaN where a point is not known; none but in a side view.

    ``pad_lean``: degrees that the trunk leans further forward than the pad. ``pad_gap``: how far the hips lie
    ahead of where they lie against it, cm or, where no height is known, trunk lengths. one, other: the pad's
    ends, whichever is the lower.
    """
    if track.facing == 0:
        return {}
    first, second = one.at(track.time_s), other.at(track.time_s)
    lower, upper = (first, second) if one.point.y >= other.point.y else (second, first)
    hip, shoulder = (track.picture_xy(f"{track.near}_{part}") for part in ("hip", "shoulder"))
    lean = from_vertical(hip, shoulder, track.facing) - from_vertical(lower, upper, track.facing)
    unit: Unit = "cm" if track.cm_per_px is not None else "trunk_fraction"
    gap = _ahead(hip, lower, upper, track.facing) / track.trunk_px - AGAINST_TRUNK
    placed = half_cm(one, other) / (cm_per_px(track) * track.trunk_px)
    half = in_unit(float(np.linalg.norm([LENGTH_HALF_TRUNK, PEOPLE_TRUNK, placed])), track, unit)
    values = gap * in_unit(1.0, track, unit)
    return {
        "pad_lean": _signal("pad_lean", lean, track=track, unit="deg", clip_half=PITCH_HALF_DEG),
        "pad_gap": _signal("pad_gap", values, track=track, unit=unit, clip_half=half),
    }


def _signal(name: str, values: Floats, track: Track, unit: Unit, clip_half: float) -> Signal:
    points = (f"{track.near}_hip", f"{track.near}_shoulder")
    moment_half = moment_half_width(track, points, unit)
    return Signal(name, unit, track.time_s, values, moment_half, clip_half=clip_half, points=points)


def _ahead(point: Floats, lower: Floats, upper: Floats, facing: int) -> Floats:
    """How far points (T, 2) lie ahead of the line from lower to upper, (T,) px."""
    along = (upper - lower) / distance(lower, upper)[:, None]
    off = point - lower
    return np.asarray(facing * (along[:, 0] * off[:, 1] - along[:, 1] * off[:, 0]))
