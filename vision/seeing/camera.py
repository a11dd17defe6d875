"""How a camera that somebody holds moved; ``camera_tracker.py`` finds it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, _require


@dataclass(frozen=True)
class CameraPath:
    """Maps from the picture of each moment to one still picture: places in the room keep theirs there.

    time_s (N,), at least one; to_still (N, 2, 3): turn, size and shift, px.
    """

    time_s: Floats
    to_still: Floats

    def __post_init__(self) -> None:
        _require(len(self.time_s) > 0, "a path has at least one moment")
        _require(self.to_still.shape == (len(self.time_s), 2, 3), "to_still must be (N, 2, 3)")

    def at(self, time_s: Floats) -> Floats:
        """The maps at other moments, (T, 2, 3): in between by straight lines, outside the nearest."""
        flat = self.to_still.reshape(len(self.time_s), 6)
        return np.stack([np.interp(time_s, self.time_s, one) for one in flat.T], axis=-1).reshape(-1, 2, 3)
