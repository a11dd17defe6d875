"""How a camera moved that somebody holds, or that slips; ``camera_tracker.py`` finds it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, require

#: So long before and after it is told nobody knows how a hand moved, s.
FAR_S = 0.45


@dataclass(frozen=True)
class CameraPath:
    """Maps from the picture of each moment to one still picture: places in the room keep theirs there.

    time_s (N,), at least one; to_still (N, 2, 3): turn, size and shift, px.
    """

    time_s: Floats
    to_still: Floats

    def __post_init__(self) -> None:
        require(len(self.time_s) > 0, "a path has at least one moment")
        require(self.to_still.shape == (len(self.time_s), 2, 3), "to_still must be (N, 2, 3)")

    def at(self, time_s: Floats) -> Floats:
        """The maps at other moments, (T, 2, 3): between them by straight lines; NaN far from all."""
        flat = self.to_still.reshape(len(self.time_s), 6)
        maps = np.stack([np.interp(time_s, self.time_s, one) for one in flat.T], axis=-1)
        after = np.clip(np.searchsorted(self.time_s, time_s), 0, len(self.time_s) - 1)
        before = np.clip(np.searchsorted(self.time_s, time_s, side="right") - 1, 0, len(self.time_s) - 1)
        off = np.minimum(np.abs(self.time_s[after] - time_s), np.abs(self.time_s[before] - time_s))
        maps[off > FAR_S] = np.nan
        return maps.reshape(-1, 2, 3)
