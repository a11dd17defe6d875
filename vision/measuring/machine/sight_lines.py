"""A marked pixel beside the frame board -> the line of sight on which the part lies; such lines -> a pixel.

A part before the sheet or behind it shows beside another spot of the sheet as the phone moves. One line does
not say how far along it the part lies, so that is taken to be near the sheet; lines from several places of
the phone meet at the part. Which lens it was filmed with, how sure the board's pose is and how well a person
points are all in the spread.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from scipy.spatial.transform import Rotation

from shared.domain import Floats
from shared.places import Sight, StillPart
from vision.measuring.learnt.uncertainty import Z90
from vision.measuring.machine.board import SIGHT_HALF_DEG, Pose

#: A part is taken to lie within this of the board's sheet, before it or behind it, cm: an assumption.
DEPTH_HALF_CM = 20.0
#: Half-width of a point that is marked by hand, cm.
MARKED_HALF_CM = 0.7
#: A line that misses the others by more than this, in standard deviations, is of a part that was moved since.
APART = 2.0
#: How often the depth is told anew with what it says of the lines.
_TURNS = 4
_STEP = 1e-4

#: What a pose and its place (6,) give: a pixel, or a line as a vector.
FromPose = Callable[[Pose, Floats], Floats]


@dataclass(frozen=True)
class Meeting:
    """Where lines meet: cm from the board's middle, x right, y down, z away from the phone.

    point (3,), spread (3, 3): its covariance; miss: by how much the worst line misses it, in its deviations.
    """

    point: Floats
    spread: Floats
    miss: float


def line_of_sight(name: StillPart, xy: Floats, poses: Sequence[Pose]) -> Sight:
    """The line of a part that is seen at a pixel (2,) of the picture in which the board hangs."""
    (right, down, right_per_cm, down_per_cm), half_cm, half_per_cm = _line(xy, poses)
    return Sight(
        name=name, right_cm=right, down_cm=down, right_per_cm=right_per_cm, down_per_cm=down_per_cm,
        half_cm=half_cm, half_per_cm=half_per_cm,
    )  # fmt: skip


def meet(sights: Sequence[Sight]) -> Meeting:
    """The place near the sheet that all lines of one part meet best, by least squares."""
    depth = DEPTH_HALF_CM / Z90
    for _ in range(_TURNS):
        rows, values = [[0.0, 0.0, Z90 / DEPTH_HALF_CM]], [0.0]
        for s in sights:
            sure = Z90 / float(np.linalg.norm([s.half_cm, s.half_per_cm * depth, MARKED_HALF_CM]))
            rows += [[sure, 0.0, sure * s.right_per_cm], [0.0, sure, sure * s.down_per_cm]]
            values += [sure * s.right_cm, sure * s.down_cm]
        equations = np.array(rows)
        spread = np.linalg.inv(equations.T @ equations)
        point = spread @ equations.T @ np.array(values)
        depth = float(np.hypot(point[2], np.sqrt(spread[2, 2])))
    return Meeting(point, spread, miss=float(np.abs(equations @ point - values)[1:].max()))


def agreeing(sights: Sequence[Sight]) -> list[Sight]:
    """The last of a part's lines and those before that meet with it: where it lay once is forgotten."""
    kept: list[Sight] = []
    for sight in reversed(sights):
        if meet([*kept, sight]).miss <= APART:
            kept.append(sight)
    return kept


def seen_at(meeting: Meeting, poses: Sequence[Pose]) -> tuple[Floats, float]:
    """Pixel (2,) of a place in the picture in which the board hangs, and its half-width there in cm.

    How the depth shows hangs on where the phone is taken to stand, so that is in the half-width as well.
    """

    def pixel(pose: Pose, place: Floats, point: Floats) -> Floats:
        x, y, z = pose.lens @ (_turn(place) @ point + place[3:])
        return np.array([x / z, y / z])

    xy, spread = _over(poses, lambda pose, place: pixel(pose, place, meeting.point))
    px_per_cm = 0.0
    for pose in poses:
        by_point = _slopes(partial(pixel, pose, pose.place), meeting.point)
        spread = spread + pose.weight * by_point @ meeting.spread @ by_point.T
        far = (_turn(pose.place) @ meeting.point + pose.place[3:])[2]
        px_per_cm += pose.weight * float(pose.lens[0, 0] / far)
    _, _, half_per_cm = _line(xy, poses)
    by_depth = float(np.sqrt(meeting.spread[2, 2])) * half_per_cm
    return xy, float(np.hypot(_half(spread) / px_per_cm, by_depth))


def _line(xy: Floats, poses: Sequence[Pose]) -> tuple[list[float], float, float]:
    """The line through a pixel (2,), its four figures and both half-widths as in ``Sight``."""

    def line(pose: Pose, place: Floats) -> Floats:
        turn = _turn(place)
        phone = -turn.T @ place[3:]
        way = turn.T @ np.linalg.solve(pose.lens, [*xy, 1.0])
        nearer = -way[:2] / way[2]
        return np.concatenate([phone[:2] + nearer * phone[2], nearer])

    told, spread = _over(poses, line)
    direction = np.hypot(_half(spread[2:, 2:]), np.radians(SIGHT_HALF_DEG))
    return told.tolist(), _half(spread[:2, :2]), float(direction)


def _over(poses: Sequence[Pose], of: FromPose) -> tuple[Floats, Floats]:
    """What the poses tell (N,), and its covariance (N, N): by each pose's own spread, and between them."""
    each = np.array([of(pose, pose.place) for pose in poses])
    mean = np.array([pose.weight for pose in poses]) @ each
    spread = np.zeros((len(mean), len(mean)))
    for pose, one in zip(poses, each, strict=True):
        by_place = _slopes(partial(of, pose), pose.place)
        spread += pose.weight * (by_place @ pose.spread @ by_place.T + np.outer(one - mean, one - mean))
    return mean, spread


def _slopes(of: Callable[[Floats], Floats], at: Floats) -> Floats:
    """How ``of`` (N,) changes with each of ``at`` (M,), (N, M)."""
    return np.array([(of(at + step) - of(at - step)) / (2 * _STEP) for step in _STEP * np.eye(len(at))]).T


def _half(spread: Floats) -> float:
    """Half-width of the 90 % interval along the least sure direction of a covariance."""
    return Z90 * float(np.sqrt(np.linalg.eigvalsh(spread)[-1]))


def _turn(place: Floats) -> Floats:
    return np.asarray(Rotation.from_rotvec(place[:3]).as_matrix())
