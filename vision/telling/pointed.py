"""One frame of a kept clip with a ring where a trainer points, and pictures made small for a list."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from shared.domain import Image
from shared.errors import PlumbsetError
from vision.seeing.clip import open_clip
from vision.telling.pictures import LONG_SIDE_PX, fit, frame_near, jpeg
from vision.telling.strokes import MEASURED, RIM, stroke

#: Radius of the ring as a share of the picture's width, and the long side of a small picture in px.
RING, SMALL_PX = 0.065, 160


def pointed_at(clip: Path, time_s: float, place: tuple[float, float] | None) -> bytes | None:
    """A JPEG of the frame at a moment (s), a ring at ``place``, shares of its width and height.

    None where that frame cannot be read: words stand without a picture then.
    """
    try:
        frame = frame_near(open_clip(clip), time_s)
    except PlumbsetError:
        return None
    if frame is None:
        return None
    image = fit(frame.image, LONG_SIDE_PX)
    return jpeg(image if place is None else _ringed(image, place))


def _ringed(image: Image, place: tuple[float, float]) -> Image:
    out = image.copy()
    centre = (round(place[0] * image.shape[1]), round(place[1] * image.shape[0]))
    for colour, width in ((RIM, 2.0), (MEASURED, 1.0)):
        thick = max(1, round(width * stroke(image)))
        cv2.circle(out, centre, round(RING * image.shape[1]), colour, thick, cv2.LINE_AA)
    return out


def smaller(picture: bytes) -> bytes:
    """A JPEG, made small; one that cannot be read is given back as it is."""
    found = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_COLOR)
    if found is None:
        return picture
    return jpeg(fit(np.asarray(cv2.cvtColor(found, cv2.COLOR_BGR2RGB), dtype=np.uint8), SMALL_PX))
