"""A camera as a pinhole: its focal length, and how it is tilted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats

#: A phone's angle of view along the long side of the picture, in video.
ANGLE_OF_VIEW_DEG = 65.0


@dataclass(frozen=True)
class Tilt:
    """down_deg: how far the lens looks down; roll_deg: how far upright lines lean right, going down."""

    down_deg: float
    roll_deg: float

    def level(self, sights: Floats) -> Floats:
        """Lines of sight (N, 3), x right, y down, z ahead, as a level camera would have them."""
        roll, down = np.radians(self.roll_deg), np.radians(self.down_deg)
        x, y, z = sights[:, 0], sights[:, 1], sights[:, 2]
        x, y = x * np.cos(roll) - y * np.sin(roll), x * np.sin(roll) + y * np.cos(roll)
        y, z = y * np.cos(down) + z * np.sin(down), z * np.cos(down) - y * np.sin(down)
        return np.stack([x, y, z], axis=1)


def focal_px(picture: tuple[int, ...]) -> float:
    """Focal length in px of the assumed angle of view, for a picture of that size."""
    return float(0.5 * max(picture) / np.tan(np.radians(ANGLE_OF_VIEW_DEG / 2)))
