"""The pictures of a phone that moved, put where one that stands, level, would have taken them."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats
from vision.seeing.camera import CameraPath

#: A phone stood at first that rolls by less than this, rad, in the first quarter of what is known of it.
FIRST_PART, STOOD_RAD = 4, 0.01


def to_room(camera: CameraPath, time_s: Floats) -> tuple[Floats, np.ndarray]:
    """Maps (T, 2, 3) from the pictures of these moments (T,) s to the room, and which are known, (T,) bool.

    Where one is not, the last known one has to do, before all of them the first. What is level is told by
    how the phone stood at first, or lay in the hand on the whole: any one picture may lie slanted.
    """
    maps = camera.at(time_s)
    known = np.asarray(np.isfinite(maps).all(axis=(1, 2)))
    if not known.any():
        return np.tile(np.eye(2, 3), (len(time_s), 1, 1)), known
    last = np.maximum.accumulate(np.where(known, np.arange(len(maps)), int(np.argmax(known))))
    return np.asarray(_to_level(camera.to_still) @ maps[last]), known


def back(maps: Floats) -> Floats:
    """The way back of maps (T, 2, 3)."""
    turned = np.linalg.inv(maps[:, :, :2])
    return np.concatenate([turned, -turned @ maps[:, :, 2:]], axis=2)


def _to_level(to_still: Floats) -> Floats:
    """The turn (2, 2) from the still that maps (N, 2, 3) lead to, to a level one."""
    roll = np.arctan2(to_still[:, 1, 0], to_still[:, 0, 0])
    first = roll[: max(1, len(roll) // FIRST_PART)]
    stood = np.subtract(*np.percentile(first, [75, 25])) < STOOD_RAD
    level = float(np.median(first if stood else roll))
    return np.array([[np.cos(level), np.sin(level)], [-np.sin(level), np.cos(level)]])
