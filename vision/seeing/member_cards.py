"""A member's card held to the camera: which number it shows.

Cards have markers of a dictionary of their own (5 x 5 cells, 250 members), which no tag of a machine is
taken for: those have 4 x 4. A marker holds a number and nothing of a person.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any

import cv2
import numpy as np

from shared.domain import Frame

#: Inner cells a side, and with the black border.
CELLS = 5
WHOLE = CELLS + 2
#: A card counts once it was read in so many pictures.
SURE = 2


def card_cells(number: int) -> list[tuple[int, int]]:
    """Row and column, 0 to 6, of the black cells of a card's marker; number: 1 to ``shared.tags.CARDS``."""
    marker = cv2.aruco.generateImageMarker(_dictionary(), number - 1, WHOLE)
    return [(int(row), int(column)) for row, column in np.argwhere(marker == 0)]


def shown_card(frames: Iterable[Frame]) -> int | None:
    """The one card that is held up in some grey pictures (H, W); None for none, and for several."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.errorCorrectionRate = 0.0
    detector = cv2.aruco.ArucoDetector(_dictionary(), parameters)
    seen = Counter[int]()
    for frame in frames:
        ids = detector.detectMarkers(frame.image)[1]
        seen.update({int(i) + 1 for i in np.ravel([] if ids is None else ids)})
    sure = [number for number, times in seen.items() if times >= SURE]
    return sure[0] if len(sure) == 1 else None


def _dictionary() -> Any:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_250)
