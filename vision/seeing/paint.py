"""Paints people out of a picture before it is looked at: the landmark model sees one of two who overlap."""

from __future__ import annotations

from collections.abc import Iterable

import cv2
import numpy as np

from shared.domain import Floats, Image
from shared.keypoints import BONES, HEAD, INDEX
from vision.common.geometry import distance

#: Radius of a head, width of a trunk, and width of what is kept about a body's bones, in trunk lengths.
HEAD_TRUNKS = 0.42
BODY_TRUNKS = 0.55
OWN_TRUNKS = 0.3
COLOUR = (128, 128, 128)
_HEAD = [INDEX[name] for name in HEAD]
_HIPS = [INDEX[name] for name in ("left_hip", "right_hip")]


def painted_out(image: Image, bodies: Iterable[Floats], keep: Iterable[Floats] = ()) -> Image:
    """A copy of a picture (H, W, 3) without the heads and trunks of ``bodies``, poses (33, 2) px.

    What lies about the bones and the head of the poses in ``keep`` stays.
    """
    cover = np.zeros(image.shape[:2], dtype=np.uint8)
    for pose in bodies:
        head, hips, trunk = _head_hips_trunk(pose)
        cv2.circle(cover, _whole(head), round(HEAD_TRUNKS * trunk), 255, -1)
        cv2.line(cover, _whole(head), _whole(hips), 255, max(1, round(BODY_TRUNKS * trunk)))
    for pose in keep:
        head, _, trunk = _head_hips_trunk(pose)
        width = max(1, round(OWN_TRUNKS * trunk))
        cv2.circle(cover, _whole(head), width, 0, -1)
        for a, b in BONES:
            cv2.line(cover, _whole(pose[INDEX[a]]), _whole(pose[INDEX[b]]), 0, width)
    out = image.copy()
    out[cover > 0] = COLOUR
    return out


def _head_hips_trunk(pose: Floats) -> tuple[Floats, Floats, float]:
    head, hips = pose[_HEAD].mean(axis=0), pose[_HIPS].mean(axis=0)
    shoulders = (pose[INDEX["left_shoulder"]] + pose[INDEX["right_shoulder"]]) / 2.0
    return head, hips, max(float(distance(shoulders, hips)), 1.0)


def _whole(point: Floats) -> tuple[int, int]:
    x, y = np.clip(point, -30_000, 30_000)
    return round(float(x)), round(float(y))
