"""The load about both ends of a repetition, told by all of the limb that moves there.

Near straight, or where an arm points at the camera, the drive's angle hardly changes although the limb
is well on its way, so a phase told by the angle alone begins late and ends early. Other points of the same
limb move on: the hand comes down as soon as a pull begins. So about each end the load is read along the
limb's usual way out of that end, in the picture and in space, each coordinate weighed by how faithfully it
takes that way from one repetition of the set to the next; in the middle of a phase it is the drive again.
Nothing here is learnt, and no angle is told by it: only when a phase begins and ends.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shared.domain import Floats, Track
from shared.keypoints import INDEX
from vision.measuring.reps.phases import Bounds, boundaries, in_order
from vision.measuring.signals.arms import TRUNK_M

#: What moves in each family of movements, and from where its place is taken.
MOVES = {
    "arm": ("shoulder", ("wrist", "index", "elbow")),
    "leg": ("hip", ("ankle", "foot_index", "heel", "knee")),
}
#: The way out of an end leads to where the drive has covered this share of its range.
WAY_SHARE = 0.3
#: From this share on the load is the drive's alone.
DRIVE_SHARE = 0.5
#: Coordinates that are unknown for more of the set than this say nothing.
UNKNOWN_SHARE = 0.05
#: No coordinate is known better than this: about half a centimetre, in trunk lengths.
FLOOR = 0.01
#: What moves by less than this over its own spread, and over the most faithful one, is left out.
FAITHFUL, FAITHFUL_OF_BEST = 1.5, 0.3
#: Degrees that count as one trunk length.
TRUNK_DEG = 60.0
#: A pose is taken over at least so long, and before the first and after the last phase over so long, s.
POSE_S, EDGE_S = 0.1, 0.4
#: Repetitions so much further apart than usual, s, have a stay each between them.
PAUSE_S = 1.5


@dataclass(frozen=True)
class _Stay:
    """One stay at an end: samples half-way into it and half-way out, the pose's, and the pose itself (D,).

    level, size: the load there, and half its way to the other end.
    """

    inward: int
    outward: int
    pose: slice
    at: Floats
    level: float
    size: float


def limb_course(track: Track, family: str, drive: Floats) -> Floats:
    """The drive (T,) in degrees and every coordinate of both limbs of a family, in trunk lengths, (T, D)."""
    origin, parts = MOVES[family]
    columns = [drive[:, None] / TRUNK_DEG]
    for side in ("left", "right"):
        start = INDEX[f"{side}_{origin}"]
        for part in parts:
            point = INDEX[f"{side}_{part}"]
            columns.append((track.points_px[:, point] - track.points_px[:, start]) / track.trunk_px)
            columns.append((track.world_m[:, point] - track.world_m[:, start]) / TRUNK_M)
    return np.concatenate(columns, axis=1)


def told_by_limb(
    course: Floats, load: Floats, time_s: Floats, found: Sequence[Bounds]
) -> tuple[list[Bounds], Floats]:
    """The bounds of a set's repetitions by the limb's course (T, D), and the load (T,) that gave them.

    load (T,) rises as the load does; found: the bounds that it gives alone, which stand where nothing of
    the course is known.
    """
    if not found:
        return [], load
    edges_s = found[0][0] - EDGE_S, found[-1][3] + EDGE_S
    course = _filled(course, slice(_sample(time_s, edges_s[0]), _sample(time_s, edges_s[1]) + 1))
    if not course.shape[1]:
        return list(found), load
    fine = load.copy()
    for top in (False, True):
        stays = _stays(course, load, time_s=time_s, found=found, top=top)
        weights = _weights(course, load, stays)
        if weights is not None:
            _read_again(fine, course, load=load, stays=stays, weights=weights)
    extremes = []
    for before, (start, turn, lower, end), after in _with_neighbours(found):
        up, back = (start + turn) / 2, (lower + end) / 2
        down = _extreme(fine, time_s, from_s=before, to_s=up)
        highest = _extreme(-fine, time_s, from_s=up, to_s=back)
        extremes.append((down, highest, _extreme(fine, time_s, from_s=back, to_s=after)))
    floor = float(np.median([fine[[down, last]] for down, _, last in extremes]))
    return in_order([boundaries(fine, time_s, *ends, floor=floor) for ends in extremes]), fine


def _with_neighbours(found: Sequence[Bounds]) -> list[tuple[float, Bounds, float]]:
    """Each repetition's bounds between the moments (s) until which a load-down end belongs to it.

    Half-way through the neighbours' phases; no further than ``EDGE_S`` where there is none, or none soon.
    """
    out, paused = [], [True, *_pauses(found), True]
    for i, bounds in enumerate(found):
        before, after = bounds[0] - EDGE_S, bounds[3] + EDGE_S
        if not paused[i]:
            before = (found[i - 1][2] + found[i - 1][3]) / 2
        if not paused[i + 1]:
            after = (found[i + 1][0] + found[i + 1][1]) / 2
        out.append((before, bounds, after))
    return out


def _pauses(found: Sequence[Bounds]) -> np.ndarray:
    """Whether each repetition but the last is followed by a pause in which the limb may do something else."""
    rests = np.array([other[0] - one[3] for one, other in pairwise(found)])
    return rests > np.median(rests) + PAUSE_S if len(rests) else rests > 0


def _stays(course: Floats, load: Floats, time_s: Floats, found: Sequence[Bounds], top: bool) -> list[_Stay]:
    """Every stay of a set at its lift ends, or at its load-down ends."""
    out = []
    for before, first, last, after in found if top else _rests(found):
        inward, outward = _sample(time_s, (before + first) / 2), _sample(time_s, (last + after) / 2)
        middle, half = (first + last) / 2, max(last - first, POSE_S) / 2
        pose = slice(_sample(time_s, middle - half), _sample(time_s, middle + half) + 1)
        level = float(np.median(load[pose]))
        size = float(np.abs(load[inward : outward + 1] - level).max())
        out.append(
            _Stay(
                inward,
                outward,
                pose=pose,
                at=np.median(course[pose], axis=0),
                level=level,
                size=max(size, 1e-6),
            )
        )
    return out


def _rests(found: Sequence[Bounds]) -> list[Bounds]:
    """Each stay at a load-down end: the lowering before it, its own two moments, the lift after it, s."""

    def after(bounds: Bounds) -> Bounds:
        return bounds[2], bounds[3], bounds[3] + EDGE_S, bounds[3] + 2 * EDGE_S

    def before(bounds: Bounds) -> Bounds:
        return bounds[0] - 2 * EDGE_S, bounds[0] - EDGE_S, bounds[0], bounds[1]

    out = [before(found[0])]
    for (one, other), paused in zip(pairwise(found), _pauses(found), strict=True):
        out += [after(one), before(other)] if paused else [(*one[2:], *other[:2])]
    return [*out, after(found[-1])]


def _weights(course: Floats, load: Floats, stays: Sequence[_Stay]) -> Floats | None:
    """How much each coordinate (D,) tells of the way out of an end; None when none does."""
    ways = []
    for stay in stays:
        away = np.abs(load - stay.level) >= 2 * WAY_SHARE * stay.size
        for side in (slice(stay.inward, stay.pose.start), slice(stay.pose.stop, stay.outward + 1)):
            there = np.flatnonzero(away[side]) + side.start
            if len(there):
                nearest = there[-1] if side.start == stay.inward else there[0]
                ways.append(course[nearest] - stay.at)
    if not ways:
        return None
    way = np.median(ways, axis=0)
    spread = np.hypot(1.4826 * np.median(np.abs(ways - way), axis=0), FLOOR)
    faithful = np.abs(way) / spread
    enough = faithful >= max(FAITHFUL, FAITHFUL_OF_BEST * float(faithful.max()))
    weights = np.where(enough, way / spread**2, 0.0)
    return np.asarray(weights / (weights @ way)) if enough.any() else None


def _read_again(fine: Floats, course: Floats, load: Floats, stays: Sequence[_Stay], weights: Floats) -> None:
    """``fine`` (T,) about each stay by the limb's way, going over into the drive's load further out."""
    for stay in stays:
        part = slice(stay.inward, stay.outward + 1)
        away = (load[part] - stay.level) / (2 * stay.size)
        up = 1.0 if abs(away.max()) > abs(away.min()) else -1.0
        share = np.clip(up * away / DRIVE_SHARE, 0.0, 1.0)
        drives = share**2 * (3 - 2 * share)
        along = up * WAY_SHARE * ((course[part] - stay.at) @ weights)
        fine[part] = stay.level + 2 * stay.size * ((1 - drives) * along + drives * away)


def _filled(course: Floats, part: slice) -> Floats:
    """The coordinates that are known for nearly all of a part, gaps passed over in a straight line."""
    unknown = np.isnan(course)
    course = course[:, unknown[part].mean(axis=0) <= UNKNOWN_SHARE].copy()
    rows = np.arange(len(course))
    for column in course.T:
        known = ~np.isnan(column)
        column[~known] = np.interp(rows[~known], rows[known], column[known])
    return course


def _sample(time_s: Floats, moment_s: float) -> int:
    return int(np.clip(np.searchsorted(time_s, moment_s), 0, len(time_s) - 1))


def _extreme(load: Floats, time_s: Floats, from_s: float, to_s: float) -> int:
    """The sample of the lowest load between two moments."""
    first, last = _sample(time_s, from_s), _sample(time_s, to_s)
    return first + int(np.argmin(load[first : last + 1]))
