"""A frame of the clip with a ring where the trainer points; no picture where there is no such frame."""

from __future__ import annotations

import cv2
import numpy as np

from tests.samples import clip_of
from vision.telling.pointed import SMALL_PX, pointed_at, smaller

CLIP = clip_of("leg-extension-clean")


def _picture(data: bytes | None) -> np.ndarray:
    assert data is not None
    return np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)).astype(int)


def test_the_ring_stands_where_it_was_put() -> None:
    plain, ringed = _picture(pointed_at(CLIP, 5.0, None)), _picture(pointed_at(CLIP, 5.0, (0.25, 0.75)))
    rows, columns = np.nonzero(np.abs(plain - ringed).max(axis=2) > 60)
    middle = (columns.mean() / plain.shape[1], rows.mean() / plain.shape[0])
    assert np.allclose(middle, (0.25, 0.75), atol=0.02)


def test_a_moment_after_the_clip_has_no_picture() -> None:
    assert pointed_at(CLIP, 1e4, None) is None and pointed_at(CLIP.with_suffix(".none"), 1.0, None) is None


def test_small_pictures_are_small_and_what_is_none_stays() -> None:
    small = _picture(smaller(pointed_at(CLIP, 5.0, None) or b""))
    assert max(small.shape) == SMALL_PX
    assert smaller(b"none") == b"none"
