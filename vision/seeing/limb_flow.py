"""frames -> flow: how far the limbs move from picture to picture, by optical flow about their landmarks.

Five looks a second tell where a limb is, but not to a frame when it starts and stops. Between two looks the
picture itself is followed about each landmark, from every picture to the next (OpenCV's pyramidal
Lucas-Kanade), and every look begins anew, so that nothing adds up. That is done while the clip is looked at,
in the same reading of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

import cv2
import numpy as np

from shared.domain import Clip, Floats, Frame, Landmarks
from vision.seeing.camera_tracker import room_corners
from vision.seeing.flow import NAMES, POINTS, LimbFlow
from vision.seeing.gray import LONG_SIDE_PX, Gray, small
from vision.seeing.subject import Subject

#: About a landmark flow is asked for at five places, so far from it in trunk lengths; their median counts.
APART = 0.08
#: Side of the patch that is compared, in trunk lengths.
PATCH = 0.12
#: A camera's motion is told by so many corners of the room, found anew at every look.
CORNERS = 30
#: With fewer corners their median counts; else those that agree within so many px tell how the room turned.
FEWEST_CORNERS, ROOM_PX = 20, 0.5
#: It turned where that leaves less than this share of the corners' motion unexplained that a shift leaves.
TURNS = 0.7
#: How bright a picture is is told by a point so often, px; a change by less is none.
LIGHT_STEP, SAME_LIGHT = 16, 0.01
#: A look tells where a limb is for no longer than this, in s.
LOOK_S = 0.35
#: Moments nearer than this are one, s.
CLOSE_S = 1e-4


class LimbMeter:
    """Finds how a subject's limbs move while a clip is looked at."""

    def __init__(self, clip: Clip, subject: Subject):
        self._scale = min(1.0, LONG_SIDE_PX / max(clip.width, clip.height))
        self._trunk = float(np.median(subject.trunk_px)) * self._scale
        self._walks: list[LimbWalk] = []

    def walk(self) -> LimbWalk:
        """For one stream of the clip's frames; several may run side by side."""
        walk = LimbWalk(self._scale, self._trunk)
        self._walks.append(walk)
        return walk

    def flow(self, subject: Landmarks, held: bool) -> LimbFlow:
        """The steps of the one whose landmarks these turned out to be (one slot).

        held: the camera is held in a hand, and its own motion is taken out.
        """
        time_s, (moved, room) = np.empty(0), np.empty((2, 0, len(NAMES), 2))
        for walk in sorted((walk for walk in self._walks if walk.time_s), key=lambda walk: walk.time_s[0]):
            times, steps = np.array(walk.time_s), np.array([walk.moved, walk.room])
            if len(time_s):
                first = int(np.searchsorted(times, time_s[-1] + CLOSE_S))
                if first and times[first - 1] < time_s[-1] - CLOSE_S:
                    steps[:, first : first + 1] = np.nan  # it set out from another picture than the last one
                times, steps = times[first:], steps[:, first:]
            time_s = np.concatenate([time_s, times])
            moved, room = np.concatenate([moved, steps[0]]), np.concatenate([room, steps[1]])
        if held:
            moved = moved - np.nan_to_num(room)
        return _of_subject(LimbFlow(time_s, moved / self._scale), subject)


def _of_subject(flow: LimbFlow, subject: Landmarks) -> LimbFlow:
    """From the first look at the subject to the last, and only the steps that set out from one."""
    known = np.asarray(np.isfinite(subject.image_px[:, 0, :, 0]).any(axis=1))
    if np.count_nonzero(known) < 2:
        return LimbFlow(np.empty(0), np.empty((0, len(NAMES), 2)))
    begin_s, end_s = subject.time_s[known][[0, -1]]
    inside = (flow.time_s > begin_s - CLOSE_S) & (flow.time_s < end_s + CLOSE_S)
    out_s = np.concatenate([flow.time_s[:1], flow.time_s[:-1]])[inside]
    look = np.maximum(np.searchsorted(subject.time_s, out_s + CLOSE_S) - 1, 0)
    return LimbFlow(flow.time_s[inside], np.where(known[look][:, None, None], flow.moved_px[inside], np.nan))


class LimbWalk:
    """Goes from picture to picture; steps and places in px of the smaller picture.

    time_s, moved, room: of each picture, how far the limbs and the room behind them, (14, 2), moved to it.
    """

    def __init__(self, scale: float, trunk: float):
        self.time_s: list[float] = []
        self.moved: list[Floats] = []
        self.room: list[Floats] = []
        self._scale = scale
        self._about = APART * trunk * np.array([(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)])
        side = int(np.clip(PATCH * trunk, 9, 31)) | 1
        self._how: dict[str, Any] = {"winSize": (side, side), "maxLevel": 2}
        self._before: Gray | None = None
        self._look_s, self._places = -np.inf, np.full((len(NAMES), 2), np.nan)
        self._corners = np.empty((0, 2))

    def looks(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """The coloured frames; the limbs are followed through the grey ones among them."""
        for frame in frames:
            if frame.image.ndim == 2:
                self._step(frame)
            else:
                yield frame

    def found(self, frame: Frame, points_px: Floats | None) -> None:
        """Every point in its place, in the picture that came last; nobody found leaves them to the flow."""
        if points_px is None or self._before is None:
            return
        body = points_px * self._scale
        self._look_s, self._places = frame.time_s, body[list(POINTS)]
        self._corners = room_corners(self._before, body, CORNERS)

    def _step(self, frame: Frame) -> None:
        gray = small(frame.image, self._scale)
        moved, room = np.full((2, len(NAMES), 2), np.nan)
        if self._before is not None and self.time_s[-1] - self._look_s <= LOOK_S:
            moved, room = self._flow(self._before, gray)
        self.time_s.append(frame.time_s)
        self.moved.append(moved)
        self.room.append(room)
        self._before = gray

    def _flow(self, before: Gray, after: Gray) -> tuple[Floats, Floats]:
        """How far each point moved, and the room there, (14, 2) both; the points go along."""
        known = np.isfinite(self._places).all(axis=1)
        limbs = (self._places[known][:, None] + self._about).reshape(-1, 2)
        start = np.concatenate([limbs, self._corners]).astype(np.float32)[:, None]
        lit = _lit_alike(before, after)
        there, ok, _ = cv2.calcOpticalFlowPyrLK(before, lit, start, np.empty_like(start), **self._how)
        went = np.where(ok == 1, (there - start)[:, 0], np.nan)
        moved = np.full((len(NAMES), 2), np.nan)
        moved[known] = _median(went[: len(limbs)].reshape(-1, len(self._about), 2))
        room = _room_at(self._places, self._corners, went[len(limbs) :])
        self._places = self._places + np.where(np.isfinite(moved), moved, 0.0)
        return moved, room


def _room_at(places: Floats, corners: Floats, went: Floats) -> Floats:
    """How far the room moved at places (14, 2) where its corners (N, 2) went so far (N, 2), px: (14, 2).

    NaN of a corner that was lost, and throughout where there was none.
    A phone that rolls in a hand moves the picture's edges more than its middle; noise seems to turn it too.
    """
    if not len(went):
        return np.full(places.shape, np.nan)
    shifted = np.broadcast_to(_median(went), places.shape)
    known = np.isfinite(went).all(axis=1)
    start, went = corners[known], went[known]
    if len(start) < FEWEST_CORNERS:
        return shifted
    affine, _ = cv2.estimateAffinePartial2D(start, start + went, ransacReprojThreshold=ROOM_PX)
    if affine is None:
        return shifted
    left = np.linalg.norm(went - _moved_by(affine, start), axis=1)
    if np.median(left) > TURNS * np.median(np.linalg.norm(went - shifted[0], axis=1)):
        return shifted
    return _moved_by(affine, places)


def _moved_by(affine: cv2.typing.MatLike, places: Floats) -> Floats:
    """How far a map (2, 3) moves places (N, 2), (N, 2)."""
    return np.asarray(places @ affine[:, :2].T + affine[:, 2] - places)


def _lit_alike(before: Gray, after: Gray) -> Gray:
    """The picture after as bright as the one before: phones let in more light or less while they film."""
    was, now = (gray[::LIGHT_STEP, ::LIGHT_STEP] + 1.0 for gray in (before, after))
    gain = float(np.median(was / now))
    if abs(gain - 1.0) < SAME_LIGHT:
        return after
    return np.asarray(cv2.convertScaleAbs(after, alpha=gain), np.uint8)


def _median(places: Floats) -> Floats:
    """Median over the places that are known, (..., places, 2) -> (..., 2); NaN where none is."""
    ordered = np.sort(places, axis=-2)
    known = np.isfinite(places).sum(axis=-2, keepdims=True)
    middle = [np.take_along_axis(ordered, np.maximum(i, 0), axis=-2) for i in ((known - 1) // 2, known // 2)]
    return np.asarray(np.mean(middle, axis=0)[..., 0, :])
