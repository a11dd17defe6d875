"""How far the points of the limbs move from one picture to the next; ``limb_flow.py`` finds it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, require
from shared.keypoints import INDEX

#: What is followed on both sides of the body.
PARTS = ("wrist", "index", "elbow", "ankle", "foot_index", "heel", "knee")
NAMES = tuple(f"{side}_{part}" for side in ("left", "right") for part in PARTS)
#: Where they stand among the landmarks.
POINTS = tuple(INDEX[name] for name in NAMES)


@dataclass(frozen=True)
class LimbFlow:
    """Steps between pictures, the camera's own motion taken out where it was held in a hand.

    time_s (F,): of each picture; moved_px (F, 14, 2): how far each of ``NAMES`` moved from the picture before
    to this one, px; NaN where it is not known, and in the first picture.
    """

    time_s: Floats
    moved_px: Floats

    def __post_init__(self) -> None:
        require(self.moved_px.shape == (len(self.time_s), len(NAMES), 2), "moved_px must be (F, 14, 2)")

    def steps(self, name: str) -> Floats:
        """The steps of one point, (F, 2) px."""
        return np.asarray(self.moved_px[:, NAMES.index(name)])
