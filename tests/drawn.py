"""Drawn clips of a machine whose every point is known, for tests of marks; no landmarks needed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace

import cv2
import numpy as np

from shared.domain import Clip, Frame

SIZE = (360, 480)  # width, height
RATE = 30.0
#: Grain of the pictures, of which each takes a part; so much larger than a picture, in px.
MORE = 64
NOISE = np.random.default_rng(0).normal(0.0, 2.0, (SIZE[1] + MORE, SIZE[0] + MORE)).astype(np.float32)


def texture(seed: int, width: int, height: int, grain: int = 6) -> np.ndarray:
    """Smooth random grey patches, (height, width)."""
    rng = np.random.default_rng(seed)
    small = rng.integers(40, 216, (height // grain + 2, width // grain + 2), dtype=np.uint8)
    return cv2.resize(small, None, fx=grain, fy=grain, interpolation=cv2.INTER_CUBIC)[:height, :width]


@dataclass
class DrawnClip:
    """A textured room, a plate that moves by ``height`` (px, up), and what passes in front of it.

    plate_xy: the plate's middle at height 0; covered: moments at which a post hides the plate; gone:
    moments at which it is not there; shake: the camera's shift in px at a moment; turn: degrees by
    which the plate is turned; roll: degrees by which the camera is; size: times as large (it zooms); light:
    times as much of it.
    """

    seconds: float = 6.5
    plate_xy: tuple[float, float] = (100.0, 330.0)
    height: Callable[[float], float] = lambda t: 60.0 * (1 - np.cos(t * 1.6)) / 2
    covered: Callable[[float], bool] = lambda t: False
    gone: Callable[[float], bool] = lambda t: False
    shake: Callable[[float], tuple[float, float]] = lambda t: (0.0, 0.0)
    turn: Callable[[float], float] = lambda t: 0.0
    roll: Callable[[float], float] = lambda t: 0.0
    size: Callable[[float], float] = lambda t: 1.0
    light: Callable[[float], float] = lambda t: 1.0
    plates: int = 1
    room: np.ndarray = field(default_factory=lambda: texture(1, SIZE[0] + 80, SIZE[1] + 80, 14))
    plate: np.ndarray = field(default_factory=lambda: texture(2, 44, 36))

    @property
    def clip(self) -> Clip:
        n = int(self.seconds * RATE)
        return Clip("drawn.mp4", self.seconds, n, RATE, *SIZE, 0)

    def place(self, t: float) -> np.ndarray:
        """The plate's middle in the picture, (2,) px."""
        return self._roll(t) @ np.append(self._upright_place(t), 1.0)

    def _upright_place(self, t: float) -> np.ndarray:
        return np.array(self.plate_xy) + np.array([0.0, -self.height(t)]) + np.array(self.shake(t))

    def _roll(self, t: float) -> np.ndarray:
        return cv2.getRotationMatrix2D((SIZE[0] / 2, SIZE[1] / 2), self.roll(t), self.size(t))

    def frames(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        min_step_s: float = 0.0,
        gray: bool = False,
    ) -> Iterator[Frame]:
        last = -np.inf
        for i in range(int(self.seconds * RATE)):
            t = i / RATE
            if t < start_s - 1e-6 or (end_s is not None and t > end_s + 1e-6) or t - last < min_step_s - 5e-4:
                continue
            last = t
            picture = self._picture(t)
            yield Frame(i, t, picture[..., 0].copy() if gray else picture)

    def with_gray(
        self, start_s: float, end_s: float | None, min_step_s: float, gray_step_s: float
    ) -> Iterator[Frame]:
        coloured = {frame.index for frame in self.frames(start_s, end_s, min_step_s)}
        last_s = -np.inf
        for frame in self.frames(start_s, end_s):
            if frame.index not in coloured and frame.time_s - last_s < gray_step_s - 5e-4:
                continue
            last_s = frame.time_s
            yield replace(frame, image=frame.image[..., 0].copy())
            if frame.index in coloured:
                yield frame

    def _picture(self, t: float) -> np.ndarray:
        dx, dy = self.shake(t)
        move = np.array([[1.0, 0.0, dx - 40], [0.0, 1.0, dy - 40]])
        gray = cv2.warpAffine(self.room, move, SIZE, flags=cv2.INTER_LINEAR)
        if not self.gone(t):
            for k in range(self.plates):
                at = self._upright_place(t) + np.array([0.0, k * self.plate.shape[0]])
                self._stamp(gray, at, self.turn(t))
        if self.covered(t):
            x = int(self.plate_xy[0])
            gray[:, max(0, x - 40) : x + 40] = 25
        if self.roll(t) or self.size(t) != 1.0:
            gray = cv2.warpAffine(gray, self._roll(t), SIZE, borderMode=cv2.BORDER_REFLECT)
        x, y = np.random.default_rng(int(t * 1000)).integers(0, MORE, 2)
        gray = np.clip(self.light(t) * gray + NOISE[y : y + SIZE[1], x : x + SIZE[0]], 0, 255).astype(
            np.uint8
        )
        return cv2.cvtColor(gray, cv2.COLOR_GRAY2RGB)

    def _stamp(self, gray: np.ndarray, at: np.ndarray, turn_deg: float) -> None:
        height, width = self.plate.shape
        affine = cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), turn_deg, 1.0)
        affine[:, 2] += at - ((width - 1) / 2, (height - 1) / 2)
        drawn = cv2.warpAffine(self.plate, affine, SIZE, flags=cv2.INTER_LINEAR)
        share = cv2.warpAffine(np.ones_like(self.plate, np.float32), affine, SIZE, flags=cv2.INTER_LINEAR)
        gray[:] = (gray * (1 - share) + drawn * share).astype(np.uint8)
