"""Strokes, dots and words on a picture, in place unless said.

Strokes have a dark rim, so that they show on any ground, and widths go with the picture's size.
Colours are from the palette of Okabe and Ito (2008), which colour-blind people can tell apart.
"""

from __future__ import annotations

import cv2
import numpy as np

from shared.domain import Floats, Image

Point = tuple[float, float]
Colour = tuple[int, int, int]
RIM: Colour = (20, 20, 24)
NEAR: Colour = (86, 180, 233)
FAR: Colour = (170, 170, 175)
MEASURED: Colour = (240, 228, 66)
MARKED: Colour = (213, 94, 0)
TEXT: Colour = (255, 255, 255)
_SHIFT = 4
#: Weight of letters where nothing else is asked; 700 is bold.
WEIGHT = 500


def label(image: Image, at: Point, text: str, offset: Floats) -> Image:
    """Words on a dark plate whose middle lies at ``at`` plus ``offset`` (px), kept in the picture."""
    if not text:
        return image
    out = image.copy()
    size = text_size(image)
    width, height = text_width(text, size), 1.5 * size
    x = np.clip(
        at[0] + offset[0] - width / 2, 0.3 * size, max(0.3 * size, image.shape[1] - width - 0.3 * size)
    )
    y = np.clip(at[1] + offset[1] - height / 2, 0, max(0, image.shape[0] - height))
    plate(out, (float(x) - 0.3 * size, float(y)), (width + 0.6 * size, height), 0.75)
    write(out, (float(x), float(y) + 1.1 * size), text, size)
    return out


def plate(image: Image, corner: Point, size: tuple[float, float], strength: float) -> None:
    """Darken a rectangle (px) in place; strength 1 makes it opaque."""
    left, top = max(0, round(corner[0])), max(0, round(corner[1]))
    part = image[top : max(0, round(corner[1] + size[1])), left : max(0, round(corner[0] + size[0]))]
    part[:] = (part * (1 - strength) + np.array(RIM) * strength).astype(np.uint8)


def write(
    image: Image, baseline: Point, text: str, size: float, colour: Colour = TEXT, weight: int = WEIGHT
) -> None:
    """Words in place, from the left end of the baseline (px); size: height of a line's letters in px."""
    at = (round(baseline[0]), round(baseline[1]))
    cv2.putText(image, text, at, colour, cv2.FontFace("sans"), round(size), weight)


def text_width(text: str, size: float, weight: int = WEIGHT) -> float:
    """Width of words in px."""
    box = cv2.getTextSize((0, 0), text, (0, 0), cv2.FontFace("sans"), round(size), weight)
    return float(box[2])


def stroke(image: Image) -> float:
    """Width of a limb's stroke in px: one part in 130 of the short side, at least 2."""
    return float(max(2.0, min(image.shape[:2]) / 130))


def text_size(image: Image) -> float:
    """Height of letters in px: one part in 22 of the short side, at least 12."""
    return float(max(12.0, min(image.shape[:2]) / 22))


def pair(xy: Floats) -> Point:
    """A place (2,) as a plain pair."""
    return float(xy[0]), float(xy[1])


def line(image: Image, a: Point, b: Point, colour: Colour, width: float) -> None:
    """A line with a dark rim, in place."""
    polyline(image, np.array([a, b]), colour, width)


def polyline(image: Image, points: Floats, colour: Colour, width: float) -> None:
    """A line through points (K, 2) px with a dark rim, in place."""
    fixed = np.round(np.clip(points, -30000, 30000) * (1 << _SHIFT)).astype(np.int32).reshape(1, -1, 2)
    for paint, wide in ((RIM, width + max(2.0, 0.6 * width)), (colour, width)):
        cv2.polylines(image, list(fixed), False, paint, max(1, round(wide)), cv2.LINE_AA, _SHIFT)


def dot(image: Image, at: Point, colour: Colour, radius: float) -> None:
    """A round dot with a dark rim, in place."""
    x, y = (min(max(round(v * (1 << _SHIFT)), -(1 << 19)), 1 << 19) for v in at)
    for paint, wide in ((RIM, radius + max(1.0, 0.3 * radius)), (colour, radius)):
        cv2.circle(image, (x, y), round(wide * (1 << _SHIFT)), paint, -1, cv2.LINE_AA, _SHIFT)
