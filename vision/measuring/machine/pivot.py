"""A mark on the machine's axis -> how far the knee's own axis lies from it, along and across the thigh.

The pivot lies nearer to the camera than the knee, or farther, so in the picture it is moved by where
the camera stands. Both are brought to the plane in which the thigh moves: lines of sight of a pinhole
camera with an assumed angle of view, the machine's axis across the body, and ``depth_cm`` between the
two along it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, RepSet, Signal, Track, Unit
from vision.common.pinhole import Tilt, focal_px
from vision.measuring.machine.board import Board
from vision.measuring.machine.load import cm_per_px
from vision.measuring.machine.places import half_cm
from vision.measuring.machine.sight_lines import MARKED_HALF_CM
from vision.measuring.track.camera_yaw import camera_turn_deg
from vision.seeing.marks import MarkPath

#: How much nearer to the camera the pivot's marked face is than the knee, by default.
DEPTH_CM = 15.0
#: Half-width of the camera's turn off the side view, on 25 rendered tuning clips.
TURN_HALF_DEG = 7.0
#: Half-width of the knee landmark against the knee's axis, in cm.
LANDMARK_HALF_CM = 4.0
#: The depth itself, and the camera's tilt with and without upright edges, are taken to be good to this.
DEPTH_HALF_CM = 5.0
LEVEL_HALF_DEG = 2.5
TILT_HALF_DEG = 6.0
LEVEL = Tilt(0.0, 0.0)
#: A marked knee is compared where the knee is bent as in the still, within this many degrees.
SAME_BEND_DEG = 6.0
#: The offset at a moment is the median over so many seconds to each side.
OFFSET_MEDIAN_S = 0.15


@dataclass(frozen=True)
class Pivot:
    """Where the machine's axis lies from the knee's.

    along and across: signals on the track's clock, along the thigh (positive beyond the knee) and
    across it (positive above); distance, along_median and across_median over the set, and half, the
    half-width of the 90 % interval, in ``unit``; change: median over the repetitions of how far the
    offset moves between both ends, with its half-width; time_s: the moment that shows the median best.
    knee_marked: whether the knee was marked as well.
    """

    along: Signal
    across: Signal
    unit: Unit
    distance: float
    along_median: float
    across_median: float
    half: float
    change: float
    change_half: float
    time_s: float
    knee_marked: bool


def find_pivot(
    pivot: MarkPath,
    knee: MarkPath | None,
    track: Track,
    drive: Signal,
    reps: RepSet,
    depth_cm: float,
    board: Board | None = None,
) -> Pivot | None:
    """The offset over the set; None where pivot or thigh was not seen long enough, or not from the side.

    board: tells the camera's turn where it can, else the person does.
    """
    if not track.facing:
        return None
    inside = (track.time_s >= reps.start_s) & (track.time_s <= reps.end_s)
    turn_deg, turn_half = camera_turn_deg(track, inside), TURN_HALF_DEG
    if board is not None and not board.why:
        turn_deg, turn_half = board.turn_deg * track.facing, board.half_deg
    if knee is None:
        knee_px, counts = track.picture_xy(f"{track.near}_knee"), inside
    else:
        knee_px, counts = _marked_knee(knee, track, drive, inside)
    hip_px = track.picture_xy(f"{track.near}_hip")
    offset = in_thigh_plane(
        pivot.at(track.time_s), knee_px, hip_px, track, turn_deg, depth_cm, pivot.tilt or LEVEL
    )
    counts = counts & ~np.isnan(offset[:, 0])
    if np.count_nonzero(counts) < max(3, 0.02 * np.count_nonzero(inside)):
        return None
    unit: Unit = "cm" if track.cm_per_px is not None else "trunk_fraction"
    scale = 1.0 if unit == "cm" else 1.0 / (cm_per_px(track) * track.trunk_px)
    median = np.median(offset[counts], axis=0)
    half = _half_cm(turn_deg, turn_half, depth_cm, knee is not None, pivot.tilt is not None)
    half = float(np.hypot(half, half_cm(pivot)))
    nearest = np.where(counts, np.linalg.norm(offset - median, axis=1), np.inf)

    def signal(name: str, values: Floats) -> Signal:
        return Signal(name, unit, track.time_s, values * scale, np.zeros(len(values)), half * scale)

    return Pivot(
        along=signal("pivot_along", offset[:, 0]),
        across=signal("pivot_across", offset[:, 1]),
        unit=unit,
        distance=float(np.linalg.norm(median)) * scale,
        along_median=float(median[0]) * scale,
        across_median=float(median[1]) * scale,
        half=half * scale,
        change=_change(offset, track, reps) * scale,
        change_half=LANDMARK_HALF_CM * scale,
        time_s=float(track.time_s[int(np.argmin(nearest))]),
        knee_marked=knee is not None,
    )


def _marked_knee(
    knee: MarkPath, track: Track, drive: Signal, inside: np.ndarray
) -> tuple[Floats, np.ndarray]:
    """The knee's axis (T, 2) from one marked place, and the moments at which it is known best.

    The landmark tells how the knee moves since the still. What it is off by changes with the bend, so
    it is compared where the knee is bent as in the still.
    """
    landmark = track.picture_xy(f"{track.near}_knee")
    at = int(np.argmin(np.abs(track.time_s - knee.point.time_s)))
    bent = np.abs(drive.values - drive.values[at]) <= SAME_BEND_DEG
    near_still = slice(max(0, at - 3), at + 4)
    since = landmark - np.nanmedian(landmark[near_still], axis=0)
    steady = knee.at(track.time_s)
    counts = inside & bent if np.count_nonzero(inside & bent) else inside
    return steady + since, counts


def in_thigh_plane(
    pivot_px: Floats,
    knee_px: Floats,
    hip_px: Floats,
    track: Track,
    turn_deg: float,
    depth_cm: float,
    tilt: Tilt = LEVEL,
) -> Floats:
    """Offset (T, 2) in cm from the knee to the pivot: along the thigh, and across it."""
    scale, focal = cm_per_px(track), focal_px(track.picture)
    middle = np.array(track.picture, dtype=float) / 2

    def sight(px: Floats) -> Floats:
        return tilt.level(np.concatenate([(px - middle), np.full((len(px), 1), focal)], axis=1))

    turn = np.radians(turn_deg)
    side = np.array([-track.facing * np.sin(turn), 0.0, -np.cos(turn)])
    knee, hip, pivot = sight(knee_px), sight(hip_px), sight(pivot_px)
    plane = knee @ side
    hip = hip * (plane / (hip @ side))[:, None]
    depth = depth_cm / scale
    pivot = pivot * ((plane + depth) / (pivot @ side))[:, None] - depth * side
    thigh = knee - hip
    thigh = thigh / np.linalg.norm(thigh, axis=1, keepdims=True)
    across = np.cross(side, thigh)
    across = across * np.where(across[:, 1:2] > 0, -1.0, 1.0)
    offset = pivot - knee
    return np.stack([(offset * thigh).sum(axis=1), (offset * across).sum(axis=1)], axis=1) * scale


def _half_cm(turn_deg: float, turn_half: float, depth_cm: float, knee_marked: bool, level: bool) -> float:
    """What the marks, the camera's turn and tilt, and the depth leave open."""
    return float(
        np.hypot.reduce(
            [
                MARKED_HALF_CM,
                MARKED_HALF_CM if knee_marked else LANDMARK_HALF_CM,
                abs(depth_cm) * np.sin(np.radians(turn_half)),
                abs(depth_cm) * np.sin(np.radians(LEVEL_HALF_DEG if level else TILT_HALF_DEG)),
                DEPTH_HALF_CM * abs(np.sin(np.radians(turn_deg))),
            ]
        )
    )


def _change(offset: Floats, track: Track, reps: RepSet) -> float:
    """Median over the repetitions of how far the offset moves from the start to the lift end, cm."""
    moved = []
    for rep in reps.full:
        ends = [_about(offset, track, at) for at in (rep.start_s, (rep.turn_s + rep.lower_start_s) / 2)]
        moved.append(float(np.linalg.norm(ends[1] - ends[0])))
    known = [m for m in moved if np.isfinite(m)]
    return float(np.median(known)) if known else float("nan")


def _about(offset: Floats, track: Track, at_s: float) -> Floats:
    near = np.abs(track.time_s - at_s) <= OFFSET_MEDIAN_S
    known = offset[near & ~np.isnan(offset[:, 0])]
    return np.median(known, axis=0) if len(known) else np.full(2, np.nan)
