"""How a camera is tilted, from upright edges of the room: posts, door frames, racks.

Upright lines lean more the farther they stand from the middle of a tilted picture; a straight line
through their leans (Theil and Sen, by scipy) gives tilt and roll, and leaning things hardly pull it.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.stats import theilslopes

from vision.common.pinhole import Tilt

#: Segments as long as this share of the picture's long side, and as upright as this, are asked.
LONG_SHARE = 0.06
UPRIGHT_DEG = 15.0
FEWEST = 8
#: Wider 90 % intervals of the tilt tell nothing.
WIDEST_DEG = 14.0


def find_tilt(gray: NDArray[np.uint8], focal_px: float) -> Tilt | None:
    """Tilt of a grey picture (H, W); None where too few upright edges agree."""
    found = cv2.createLineSegmentDetector().detect(gray)[0]
    if found is None:
        return None
    ends = np.asarray(found, dtype=np.float64).reshape(-1, 2, 2)
    along = ends[:, 1] - ends[:, 0]
    along *= np.where(along[:, 1:] < 0, -1.0, 1.0)
    lean = np.degrees(np.arctan2(along[:, 0], along[:, 1]))
    long = np.linalg.norm(along, axis=1) > LONG_SHARE * max(gray.shape)
    use = long & (np.abs(lean) < UPRIGHT_DEG)
    if np.count_nonzero(use) < FEWEST:
        return None
    beside = (ends[use, :, 0].mean(axis=1) - (gray.shape[1] - 1) / 2) / focal_px
    if np.ptp(beside) < 1e-6:
        return None
    fit = theilslopes(lean[use], beside, 0.9)
    if fit.high_slope - fit.low_slope > WIDEST_DEG:
        return None
    return Tilt(-float(fit.slope), float(fit.intercept))
