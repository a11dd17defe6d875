"""Finds faces in a part of a picture, for the stills that show the machine: whoever no look found there."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2

from shared.domain import Image

#: Heads in one picture: x, y, radius.
Discs = list[tuple[float, float, float]]
#: Rows and columns of a picture.
Part = tuple[slice, slice]
#: The boosted cascades that come with OpenCV (Viola and Jones 2001; Lienhart and Maydt 2002).
CASCADES = ("haarcascade_frontalface_alt2.xml", "haarcascade_profileface.xml")
#: So many of a cascade's windows must agree, each a tenth larger than the one before.
AGREEING, STEP = 5, 1.1
#: Radius of a disc that covers a face and the head about it, in widths of what was found.
COVERS = 0.75


def faces(image: Image, part: Part) -> Discs:
    """Discs (px of the whole picture) about what looks like a face in a part of it, turned either way."""
    grey = cv2.cvtColor(image[part], cv2.COLOR_RGB2GRAY)
    rows, columns = part
    found: Discs = []
    for cascade in _cascades():
        for mirrored in (False, True):
            seen = cv2.flip(grey, 1) if mirrored else grey
            for x, y, width, height in cascade.detectMultiScale(seen, STEP, AGREEING):
                left = grey.shape[1] - x - width if mirrored else x
                centre_x, centre_y = columns.start + left + width / 2, rows.start + y + height / 2
                found.append((float(centre_x), float(centre_y), COVERS * float(max(width, height))))
    return found


@cache
def _cascades() -> tuple[cv2.CascadeClassifier, ...]:
    return tuple(cv2.CascadeClassifier(str(Path(cv2.__file__).parent / "data" / name)) for name in CASCADES)
