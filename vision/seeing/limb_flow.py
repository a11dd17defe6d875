"""frames -> flow: how far the limbs move from picture to picture, by optical flow about their landmarks.

Five looks a second tell where a limb is, but not to a frame when it starts and stops. Between two looks the
picture itself is followed about each landmark, from every picture to the next (OpenCV's pyramidal
Lucas-Kanade), and every look begins anew, so that nothing adds up.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import cv2
import numpy as np

from shared.domain import Floats, Frame, Landmarks
from vision.common.poses import torso
from vision.common.seams import FrameSource, Progress
from vision.seeing.camera_tracker import room_corners
from vision.seeing.flow import NAMES, POINTS, LimbFlow
from vision.seeing.gray import LONG_SIDE_PX, STEP_S, Gray, small

#: About a landmark flow is asked for at five places, so far from it in trunk lengths; their median counts.
APART = 0.08
#: Side of the patch that is compared, in trunk lengths.
PATCH = 0.12
#: A camera's motion is the median over so many corners of the room, found anew at every look.
CORNERS = 30
#: A look tells where a limb is for no longer than this, in s.
LOOK_S = 0.35


def follow_limbs(
    source: FrameSource,
    subject: Landmarks,
    progress: Progress | None = None,
    threads: int = 2,
    held: bool = False,
) -> LimbFlow:
    """How the limbs of the one whose landmarks these are (one slot) move, in pictures up to 31 a second.

    held: the camera is held in a hand, and its own motion is taken out.

    Raises ClipError where the clip cannot be read.
    """
    known = np.flatnonzero(~np.isnan(subject.image_px[:, 0, :, 0]).all(axis=1))
    if len(known) < 2:
        return LimbFlow(np.empty(0), np.empty((0, len(NAMES), 2)))
    begin_s, end_s = float(subject.time_s[known[0]]), float(subject.time_s[known[-1]])
    middle_s = (begin_s + end_s) / 2
    report = progress or (lambda share: None)

    def told(frames: Iterator[Frame]) -> Iterator[Frame]:
        for frame in frames:
            report(min(1.0, (frame.time_s - begin_s) / max(middle_s - begin_s, 1e-6)))
            yield frame

    first = source.frames(begin_s, middle_s, STEP_S, gray=True)
    second = source.frames(middle_s, end_s, STEP_S, gray=True)

    def followed(frames: Iterator[Frame]) -> LimbFlow:
        return _followed(frames, source, subject, held)

    if threads < 2:
        return _joined(followed(told(first)), followed(second))
    with ThreadPoolExecutor(1) as beside:
        later = beside.submit(followed, second)
        return _joined(followed(told(first)), later.result())


def _joined(first: LimbFlow, second: LimbFlow) -> LimbFlow:
    """Both halves; a picture that stands in both is the first one's."""
    late = second.time_s > first.time_s[-1] if len(first.time_s) else np.ones(len(second.time_s), dtype=bool)
    return LimbFlow(
        np.concatenate([first.time_s, second.time_s[late]]),
        np.concatenate([first.moved_px, second.moved_px[late]]),
    )


def _followed(frames: Iterator[Frame], source: FrameSource, subject: Landmarks, held: bool) -> LimbFlow:
    scale = min(1.0, LONG_SIDE_PX / max(source.clip.width, source.clip.height))
    walk = _Walk(subject, scale, held)
    for frame in frames:
        walk.step(frame)
    return LimbFlow(np.array(walk.time_s), np.array(walk.moved).reshape(-1, len(NAMES), 2))


class _Walk:
    """Goes from picture to picture; pictures and places in px of the smaller picture."""

    def __init__(self, subject: Landmarks, scale: float, held: bool):
        self.time_s: list[float] = []
        self.moved: list[Floats] = []
        self._looks_s, self._scale = subject.time_s, scale
        self._body = subject.image_px[:, 0, :, :2] * scale
        trunk = float(np.nanmedian(torso(self._body)[1]))
        self._about = APART * trunk * np.array([(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)])
        side = int(np.clip(PATCH * trunk, 9, 31)) | 1
        self._how: dict[str, Any] = {"winSize": (side, side), "maxLevel": 2}
        self._before: Gray | None = None
        self._look, self._places = -1, np.full((len(NAMES), 2), np.nan)
        self._held, self._room = held, np.empty((0, 2))

    def step(self, frame: Frame) -> None:
        gray = small(frame.image, self._scale)
        moved = np.full((len(NAMES), 2), np.nan)
        if self._before is not None and self._placed(self.time_s[-1], self._before):
            moved = self._flow(self._before, gray)
        self.time_s.append(frame.time_s)
        self.moved.append(moved / self._scale)
        self._before = gray

    def _placed(self, time_s: float, gray: Gray) -> bool:
        """Whether there is a look to go on from at this moment; a new look puts every point in its place."""
        look = int(np.searchsorted(self._looks_s, time_s + 1e-4)) - 1
        if look < 0 or time_s - self._looks_s[look] > LOOK_S:
            return False
        if look != self._look:
            self._look, self._places = look, self._body[look][list(POINTS)].copy()
            if self._held and np.isfinite(self._places).any():
                self._room = room_corners(gray, self._body[look], CORNERS)
        return bool(np.isfinite(self._places).any())

    def _flow(self, before: Gray, after: Gray) -> Floats:
        """How far each point moved in the room, (14, 2); the points go along."""
        known = np.isfinite(self._places).all(axis=1)
        limbs = (self._places[known][:, None] + self._about).reshape(-1, 2)
        start = np.concatenate([limbs, self._room]).astype(np.float32)[:, None]
        there, ok, _ = cv2.calcOpticalFlowPyrLK(before, after, start, np.empty_like(start), **self._how)
        went = np.where(ok == 1, (there - start)[:, 0], np.nan)
        moved = np.full((len(NAMES), 2), np.nan)
        moved[known] = _median(went[: len(limbs)].reshape(-1, len(self._about), 2))
        camera = _median(went[len(limbs) :]) if len(self._room) else np.zeros(2)
        self._places = self._places + np.where(np.isfinite(moved), moved, 0.0)
        return np.asarray(moved - np.nan_to_num(camera))


def _median(places: Floats) -> Floats:
    """Median over the places that are known, (..., places, 2) -> (..., 2); NaN where none is."""
    ordered = np.sort(places, axis=-2)
    known = np.isfinite(places).sum(axis=-2, keepdims=True)
    middle = [np.take_along_axis(ordered, np.maximum(i, 0), axis=-2) for i in ((known - 1) // 2, known // 2)]
    return np.asarray(np.mean(middle, axis=0)[..., 0, :])
