"""Grey pictures, no larger and no more often than following a point in them needs."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from shared.domain import Image

Gray = NDArray[np.uint8]
#: Pictures are followed at no more than this many px a side and 31 a second.
LONG_SIDE_PX = 960
STEP_S = 1 / 31.0


def small(gray: Image, scale: float) -> Gray:
    """A grey picture (H, W), smaller by ``scale``."""
    if scale < 1.0:
        gray = np.asarray(cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)
    return gray
