"""A frame board -> how the camera is turned and tilted against the machine's side, and how far away it is.

A board parallel to that side is seen shortened as the lens's axis turns, nearly whatever the lens. Which
lens it was is solved from how well each fits, and what several leave open widens the interval. Of a flat
board two poses may fit alike (Schweighofer and Pinz 2006, IEEE PAMI 28:2024, from memory): where they do,
nothing is said.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from shared.domain import Floats
from shared.tags import BOARD_COLUMNS, BOARD_ROWS, SIDE_CM, SQUARE_CM, board_squares
from vision.measuring.learnt.uncertainty import Z90
from vision.seeing.tags import TagPath

#: Angles of view along the long side with which phones film, an assumption: from narrow to wide.
LENSES_DEG = tuple(range(48, 77, 4))
#: What the picture moves a marker's middle by at least, alike in all frames, px: a pose's fit weighs against
#: this. Blur and grain draw all four corners inward, 0.1 px in a sharp clip and 0.7 in a dim and blurred one,
#: which looks like another turn; their middle stays.
MIDDLE_PX = 0.06
#: Half-width of the angles that remains with a lens that is known, degrees.
SIGHT_HALF_DEG = 1.0
#: Fewer markers than this are no board.
FEWEST = 4
#: A pose with less than this weight of all is out.
OUT = 0.05
_STEPS = 1e-4 * np.eye(3)
#: The poses that are left must agree about both angles within this.
OPEN_DEG = 8.0
#: A marker's corners about its middle, in halves of its side.
_AROUND = ((-1, -1), (1, -1), (1, 1), (-1, 1))


@dataclass(frozen=True)
class Board:
    """How the camera's axis lies against a line straight at the board.

    turn_deg: turned left, as a camera does that stands further right; down_deg: looking down; both with half,
    the half-width of the 90 % interval; distance_cm: least and most; why: the reason where none of it can be
    told, and then all are NaN; poses: all that fit it, none where too little of it was seen.
    """

    turn_deg: float = float("nan")
    down_deg: float = float("nan")
    half_deg: float = float("nan")
    distance_cm: tuple[float, float] = (float("nan"), float("nan"))
    why: str = ""
    poses: tuple[Pose, ...] = field(default=(), repr=False, compare=False)


@dataclass(frozen=True)
class Pose:
    """One way in which the board may hang before the camera.

    place (6,): from the board to the camera, a rotation vector and then a shift in cm; lens (3, 3): px;
    error: by how much it misses the markers' middles, px; spread (6, 6): how sure the place is by
    ``MIDDLE_PX``, its covariance; weight: of all that fit, 0..1.
    """

    place: Floats
    lens: Floats
    error: float
    spread: Floats
    weight: float = 0.0


def find_board(path: TagPath, picture: tuple[int, int]) -> Board:
    """The camera's place by the middles of the board's markers over the clip; picture: width, height, px."""
    found = _board_poses(path, picture)
    if not found:
        return Board(why="too few of the board's markers were seen")
    poses = np.array(
        [[*_angles(p.place[:3]), np.linalg.norm(p.place[3:]), p.weight, _noise_deg(p)] for p in found]
    )
    weight = poses[:, 3]
    kept = poses[weight > OUT * weight.max()]
    if np.ptp(kept[:, 0]) > OPEN_DEG or np.ptp(kept[:, 1]) > OPEN_DEG:
        return Board(why="two places of the camera fit the board alike", poses=found)
    turn, down = (float(weight @ poses[:, k]) for k in (0, 1))
    spread, noise = float(np.max(np.abs(kept[:, :2] - (turn, down)))), float(kept[:, 4].max())
    return Board(
        turn,
        down,
        half_deg=float(np.linalg.norm([SIGHT_HALF_DEG, spread, noise])),
        distance_cm=(float(kept[:, 2].min()), float(kept[:, 2].max())),
        poses=found,
    )


def _board_poses(path: TagPath, picture: tuple[int, int]) -> tuple[Pose, ...]:
    """Every pose by every lens, weighed by how well it fits the clip; none where too little was seen."""
    known = ~np.isnan(path.corners_px[..., 0]).all(axis=0)
    whole = known.reshape(-1, 4).all(axis=1)
    if np.count_nonzero(whole) < FEWEST:
        return ()
    corners = np.nanmedian(path.corners_px[:, np.repeat(whole, 4)], axis=0)
    middles = corners.reshape(-1, 4, 2).mean(axis=1)
    points = board_points().reshape(-1, 4, 3).mean(axis=1)[whole]
    poses = [pose for lens in LENSES_DEG for pose in _poses(points, middles, picture, lens)]
    if not poses:
        return ()
    errors = np.array([pose.error for pose in poses])
    least = float(errors.min())
    fit = (errors**2 - least**2) * middles.size / (2 * max(MIDDLE_PX, least) ** 2)
    weights = np.exp(-fit) / np.exp(-fit).sum()
    return tuple(replace(pose, weight=float(w)) for pose, w in zip(poses, weights, strict=True))


def board_points() -> Floats:
    """Corners of the board's markers (24, 3) cm from its middle: x right, y down, z away from the viewer."""
    side, places = SIDE_CM["board"], []
    for row, column, index in board_squares():
        if index is not None:
            x = SQUARE_CM * (column - (BOARD_COLUMNS - 1) / 2)
            y = SQUARE_CM * (row - (BOARD_ROWS - 1) / 2)
            places += [(x + a * side / 2, y + b * side / 2, 0) for a, b in _AROUND]
    return np.array(places, dtype=float)


def _poses(points: Floats, seen: Floats, picture: tuple[int, int], lens_deg: float) -> list[Pose]:
    """The poses, one or two, by one lens."""
    import cv2  # the page shows a board's figures without it

    width, height = picture
    focal = 0.5 * max(picture) / np.tan(np.radians(lens_deg / 2))
    lens = np.array([[focal, 0, (width - 1) / 2], [0, focal, (height - 1) / 2], [0, 0, 1.0]])
    solved = cv2.solvePnPGeneric(points, seen, lens, None, flags=cv2.SOLVEPNP_IPPE)
    poses = []
    for turn, shift, error in zip(solved[1], solved[2], np.ravel(solved[3]), strict=True):
        if not np.isfinite(error):  # straight before the lens
            continue
        by_pose = cv2.projectPoints(points, turn, shift, lens, None)[1][:, :6]
        spread = np.linalg.inv(by_pose.T @ by_pose) * MIDDLE_PX**2
        place = np.concatenate([turn, shift]).ravel().astype(float)
        poses.append(Pose(place, lens, error=float(error), spread=spread))
    return poses


def _noise_deg(pose: Pose) -> float:
    """Half-width that ``MIDDLE_PX`` makes of the less sure angle, degrees."""
    turn = pose.place[:3]
    step = np.array([(_angles(turn + move) - _angles(turn - move)) / 2e-4 for move in _STEPS]).T
    return Z90 * float(np.sqrt(np.diag(step @ pose.spread[:3, :3] @ step.T).max()))


def _angles(turn: Floats) -> Floats:
    """Turn and down (2,) in degrees of a board turned by a rotation vector (3,)."""
    import cv2

    x, y, z = cv2.Rodrigues(turn)[0][2]
    return np.degrees([np.arctan2(-x, z), np.arctan2(y, np.hypot(x, z))])
