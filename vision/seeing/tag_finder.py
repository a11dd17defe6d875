"""Finds the markers of printed tags in pictures, with OpenCV's ArUco module."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from shared.domain import Floats
from shared.tags import MACHINES, PER_MACHINE

#: A smaller tag (side in px) is enlarged before it is looked for near a known place.
SMALL_PX = 45.0
#: What lies this near, in sides, belongs to the part of the picture in which a tag is looked for.
NEAR_SIDES = 1.2


class Finder:
    """Finds the markers of printed tags in grey pictures (H, W)."""

    def __init__(self) -> None:
        self._strict, self._mending = _detector(0.0), _detector(1.0)

    def anywhere(self, gray: NDArray[np.uint8]) -> dict[int, Floats]:
        """Corners (4, 2) px by the marker's number, each cell as printed."""
        return _found(self._strict, gray)

    def closely(self, gray: NDArray[np.uint8]) -> dict[int, Floats]:
        """As ``anywhere``, in the picture enlarged, one misread cell put right: where a machine is known."""
        large = np.ascontiguousarray(_enlarged(gray, 2), dtype=np.uint8)
        return {i: (corners + 0.5) / 2 - 0.5 for i, corners in _found(self._mending, large).items()}

    def near(self, gray: NDArray[np.uint8], marker: int, corners: Floats) -> Floats | None:
        """One marker's corners (4, 2) px near where it was; one misread cell is put right."""
        side = side_px(corners)
        reach = NEAR_SIDES * side
        left, top = np.maximum(np.floor(corners.min(axis=0) - reach), 0).astype(int)
        right, bottom = np.ceil(corners.max(axis=0) + reach).astype(int)
        part: NDArray[Any] = gray[top:bottom, left:right]
        if min(part.shape) < 8:
            return None
        scale = 2 if side < SMALL_PX else 1
        if scale > 1:
            part = _enlarged(part, scale)
        found = _found(self._mending, np.ascontiguousarray(part, dtype=np.uint8)).get(marker)
        return None if found is None else (found + 0.5) / scale - 0.5 + (left, top)


def _enlarged(part: NDArray[Any], scale: int) -> NDArray[Any]:
    return cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)


def side_px(corners: Floats) -> float:
    """Mean side of a tag whose corners (4, 2) are known."""
    return float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).mean())


def _detector(mend: float) -> Any:
    parameters = cv2.aruco.DetectorParameters()
    parameters.errorCorrectionRate = mend
    parameters.minMarkerPerimeterRate = 0.02
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    parameters.adaptiveThreshWinSizeStep = 8
    return cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100), parameters)


def _found(detector: Any, gray: NDArray[np.uint8]) -> dict[int, Floats]:
    corners, ids, _ = detector.detectMarkers(gray)
    if ids is None:
        return {}
    pairs = zip(np.ravel(ids).tolist(), corners, strict=True)
    return {i: np.asarray(c, dtype=float).reshape(4, 2) for i, c in pairs if i < MACHINES * PER_MACHINE}
