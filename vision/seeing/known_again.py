"""A still known again, by its details, in a picture taken from nearer, from elsewhere or turned."""

from __future__ import annotations

import cv2
import numpy as np

from shared.domain import Floats
from vision.seeing.gray import Gray

#: So many details are compared at most, on so many sizes of the picture, each 1.2 times the next; from so low
#: a contrast on.
MOST, SIZES, CONTRAST = 1000, 4, 5
#: A picture shows the still up to so many times larger or smaller.
LARGER = 2.0
#: So many must agree about where the still lies, within this many px.
AGREE, WITHIN_PX = 12, 3.0


class KnownAgain:
    """Where a still lies in other pictures, by ORB (Rublee and others, ICCV 2011, from memory).

    room: 255 where a detail may lie, as large as the still, else 0; None: anywhere.
    """

    def __init__(self, still: Gray, room: Gray | None):
        self._orb = cv2.ORB.create(MOST, nlevels=SIZES, edgeThreshold=15, fastThreshold=CONTRAST)
        self._matcher = cv2.BFMatcher(cv2.NORM_HAMMING, crossCheck=True)
        self._still, self._room = still, room
        self._details: tuple[Floats, np.ndarray] | None = None

    def there(self, gray: Gray) -> Floats | None:
        """Map of still px to px of this picture, (2, 3), roughly: turn, size, shift; None: not known."""
        self._details = self._details or self._found(self._still, self._room)
        (still_xy, still_look), (xy, look) = self._details, self._found(gray)
        same = self._matcher.match(still_look, look) if len(still_xy) and len(xy) else ()
        if len(same) < AGREE:
            return None
        before, after = still_xy[[m.queryIdx for m in same]], xy[[m.trainIdx for m in same]]
        there, agree = cv2.estimateAffinePartial2D(
            before, after, method=cv2.RANSAC, ransacReprojThreshold=WITHIN_PX
        )
        if there is None or np.count_nonzero(agree) < AGREE:
            return None
        size = float(np.hypot(*there[0, :2]))
        return np.asarray(there) if 1.0 / LARGER < size < LARGER else None

    def _found(self, gray: Gray, room: Gray | None = None) -> tuple[Floats, np.ndarray]:
        """Places (N, 2) px of details, and what each looks like, (N, 32) bytes."""
        points, looks = self._orb.detectAndCompute(gray, room)
        xy = np.array([point.pt for point in points], np.float64).reshape(-1, 2)
        return xy, np.empty((0, 32), np.uint8) if looks is None else looks
