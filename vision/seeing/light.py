"""How bright and how sharp a clip's pictures are."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import cv2
import numpy as np

from shared.domain import Clip, Frame
from vision.common.seams import Box

#: Grey copies kept of a clip.
MOST_THUMBS = 60


@dataclass
class PictureMeter:
    """Measures brightness and sharpness of frames as they stream by."""

    step_s: float = 1.0
    thumbs: list[np.ndarray] = field(default_factory=list)

    @classmethod
    def for_clip(cls, clip: Clip) -> PictureMeter:
        """One picture a second, or fewer: memory stays flat with length."""
        return cls(max(1.0, clip.duration_s / MOST_THUMBS))

    def tap(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """Pass frames on unchanged; keep a grey copy every ``step_s``. Streams may run side by side."""
        last_s = -np.inf
        for frame in frames:
            if frame.time_s - last_s >= self.step_s:
                last_s = frame.time_s
                self.thumbs.append(cv2.cvtColor(frame.image, cv2.COLOR_RGB2GRAY))
            yield frame

    def measure(self, box: Box) -> tuple[float, float]:
        """Median brightness (0 to 255) and median ``sharpness`` inside the box; NaN without pictures."""
        left, top, right, bottom = box
        parts = [t[top:bottom, left:right] for t in self.thumbs]
        if not parts:
            return float("nan"), float("nan")
        lumas, sharps = [float(np.median(p)) for p in parts], [sharpness(p) for p in parts]
        return float(np.median(lumas)), float(np.median(sharps))


def sharpness(grey: np.ndarray) -> float:
    """Strength of the sharpest edges over the picture's contrast, after scaling to 320 pixels.

    The 99th percentile of the gradient a pixel over the 5 to 95 % grey range; noise is
    taken off first by a small blur, so that a noisy picture does not pass for a sharp one.
    """
    scale = 320.0 / max(grey.shape)
    shrunk = cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(shrunk.astype(np.float32), (3, 3), 0)
    gradient = np.hypot(cv2.Sobel(small, cv2.CV_32F, 1, 0), cv2.Sobel(small, cv2.CV_32F, 0, 1)) / 8.0
    contrast = float(np.percentile(small, 95) - np.percentile(small, 5))
    return float(np.percentile(gradient, 99)) / max(contrast, 8.0)
