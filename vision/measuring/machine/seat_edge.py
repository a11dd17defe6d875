"""The calves against the seat's front edge, which was pointed at: known from the first repetition on."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Signal, Track, Unit
from vision.measuring.learnt.uncertainty import LENGTH_HALF_TRUNK, in_unit, moment_half_width
from vision.measuring.machine.load import cm_per_px
from vision.measuring.machine.places import half_cm
from vision.measuring.track.camera_yaw import off_deg
from vision.seeing.marks import MarkPath

#: Trunk lengths from the line between knee and ankle back to the calf's skin, and how far people differ:
#: about 7 and 2 cm of 50 (common practice, no published source).
CALF_TRUNK, PEOPLE_TRUNK = 0.14, 0.04
#: The seat is wider than the legs: its edge lies nearer to the camera than the calf by so many trunk lengths.
NEARER_TRUNK = 0.2


def seat_signal(edge: MarkPath, track: Track) -> Signal | None:
    """``seat_gap``: from the calf's back to the seat's edge, cm or, where no height is known, trunk lengths.

    (T,) on the track's clock, below zero where the calf is pressed in; NaN where the edge does not lie behind
    the shank, between knee and ankle. None but in a side view.
    """
    if track.facing == 0:
        return None
    points = (f"{track.near}_knee", f"{track.near}_ankle")
    knee, ankle = (track.picture_xy(point) for point in points)
    behind = _behind(edge.at(track.time_s), knee, ankle, track.facing)
    unit: Unit = "cm" if track.cm_per_px is not None else "trunk_fraction"
    beside = NEARER_TRUNK * np.sin(np.radians(off_deg(track)))
    placed = half_cm(edge) / (cm_per_px(track) * track.trunk_px)
    half = float(np.linalg.norm([LENGTH_HALF_TRUNK, PEOPLE_TRUNK, beside, placed]))
    values = (behind / track.trunk_px - CALF_TRUNK) * in_unit(1.0, track, unit)
    moment = moment_half_width(track, points, unit)
    return Signal(
        "seat_gap", unit, track.time_s, values, moment, clip_half=in_unit(half, track, unit), points=points
    )


def _behind(edge: Floats, knee: Floats, ankle: Floats, facing: int) -> Floats:
    """How far the edge (T, 2) lies behind the line from knee to ankle, (T,) px; NaN where not beside it."""
    down, off = ankle - knee, edge - knee
    length = np.linalg.norm(down, axis=-1)
    across = facing * (down[:, 0] * off[:, 1] - down[:, 1] * off[:, 0]) / length
    share = np.sum(down * off, axis=-1) / length**2
    return np.where((across > 0) & (share > 0) & (share < 1), across, np.nan)
