"""frames -> camera: how the camera moves against the room, from corners that keep their place in it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import cv2
import numpy as np

from shared.domain import Clip, Floats, Frame, Image
from vision.common.seams import FrameSource
from vision.seeing.camera import CameraPath
from vision.seeing.gray import Gray, small
from vision.seeing.mark_follow import round_trip
from vision.seeing.subject import Subject

#: Corners asked for in a still, and how many, and which share of them, must agree about the camera's motion.
MOST_CORNERS, MIN_CORNERS, AGREEING = 300, 12, 0.3
#: A room's corners are looked for in pictures of this many px a side, blurred by so much, px, and off the
#: person and so far around, in shares of their height.
LONG_SIDE_PX, BLUR_PX, AROUND = 480, 1.6, 0.1
#: A camera's path is told by the clearest ones, of which a dark room has few,
CLEAR_CORNERS = 50
#: and where so much of the clip's pictures tell it.
KNOWN_SHARE = 0.5
#: A phone that moves the picture by less than this share of its long side stands.
STANDS = 0.003


def room_corners(gray: Gray, body: Floats, most: int) -> Floats:
    """The clearest corners (N, 2) of a picture that are not on somebody; body: their points (K, 2) in it, px.

    Noise has corners as well, a bare wall has none.
    """
    scale = min(1.0, LONG_SIDE_PX / max(gray.shape))
    view = _blurred(gray, scale)
    low, high = np.nanmin(body, axis=0), np.nanmax(body, axis=0)
    around = AROUND * (high - low)[1]
    reach = np.maximum(scale * np.array([low - around, high + around]), 0.0).astype(int)
    (left, top), (right, bottom) = reach
    where = np.full(view.shape, 255, np.uint8)
    where[top:bottom, left:right] = 0
    corners = cv2.goodFeaturesToTrack(view, most, 0.01, 9, mask=where)
    return np.empty((0, 2)) if corners is None else np.asarray(corners[:, 0] / scale, np.float64)


class Camera:
    """The camera's motion since a still, from its corners (N, 2) that kept their place in the room."""

    def __init__(self, still: Gray, corners: Floats | None = None):
        found = cv2.goodFeaturesToTrack(still, MOST_CORNERS, 0.01, 9) if corners is None else corners
        none = np.empty((0, 1, 2), np.float32)
        self._corners = none if found is None else found.astype(np.float32).reshape(-1, 1, 2)
        self._still = still
        self._last = np.eye(2, 3)

    def step(self, gray: Gray) -> Floats | None:
        """Map of still px to px of this picture, (2, 3); None where too few corners agree."""
        if len(self._corners) < MIN_CORNERS:
            return None
        start = self._corners
        guess = cv2.transform(start, self._last).astype(np.float32)
        found, good = round_trip(self._still, gray, start, guess)
        if np.count_nonzero(good) < MIN_CORNERS:
            return None
        affine, inliers = cv2.estimateAffinePartial2D(
            start[good], found[good], method=cv2.RANSAC, ransacReprojThreshold=1.0
        )
        if affine is None or np.count_nonzero(inliers) < max(MIN_CORNERS, AGREEING * len(start)):
            return None
        self._last = affine
        return np.asarray(affine)


class CameraMeter:
    """Finds a clip's camera path from frames that stream by, held against the picture in its middle."""

    def __init__(self, source: FrameSource, subject: Subject):
        self._scale = min(1.0, LONG_SIDE_PX / max(source.clip.width, source.clip.height))
        self._clip, self._seen = source.clip, list[tuple[float, Floats | None]]()
        middle_s = source.clip.duration_s / 2
        still = next(iter(source.frames(middle_s)), None)
        gray = None if still is None else _gray(still.image)
        pose = subject.poses_px[int(np.argmin(np.abs(subject.time_s - middle_s)))]
        self._still = None if gray is None else _blurred(gray, self._scale)
        found = np.empty((0, 2)) if gray is None else room_corners(gray, pose, CLEAR_CORNERS)
        self._corners = found * self._scale

    def tap(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """Pass frames on unchanged. Streams may run side by side."""
        camera = None if self._still is None else Camera(self._still, self._corners)
        for frame in frames:
            if camera is not None:
                self._seen.append(
                    (frame.time_s, self._to_still(camera.step(_blurred(_gray(frame.image), self._scale))))
                )
            yield frame

    def path(self) -> CameraPath | None:
        """The camera's path; None where the phone stands, or the room hardly tells."""
        told = {
            time_s: there for time_s, there in sorted(self._seen, key=lambda one: one[0]) if there is not None
        }
        if len(told) < max(1.0, KNOWN_SHARE * len(self._seen)):
            return None
        path = CameraPath(np.array(list(told)), np.array(list(told.values())))
        return path if _moves(path, self._clip) else None

    def _to_still(self, moved: Floats | None) -> Floats | None:
        """The map back, in px of the whole picture."""
        if moved is None:
            return None
        whole = np.column_stack([moved[:, :2], moved[:, 2] / self._scale])
        return np.asarray(cv2.invertAffineTransform(whole), np.float64)


def _gray(image: Image) -> Gray:
    return np.asarray(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), np.uint8)


def _blurred(gray: Gray, scale: float) -> Gray:
    return np.asarray(cv2.GaussianBlur(small(gray, scale), (0, 0), BLUR_PX), np.uint8)


def _moves(path: CameraPath, clip: Clip) -> bool:
    """Whether what stands half way to the picture's corners leaves its place, but for a few looks."""
    places = np.array([(x * clip.width, y * clip.height, 1.0) for x in (0.25, 0.75) for y in (0.25, 0.75)])
    there = np.einsum("nij,kj->nki", path.to_still, places)
    off = np.linalg.norm(there - np.median(there, axis=0), axis=-1).max(axis=1)
    return bool(np.percentile(off, 90) > STANDS * max(clip.width, clip.height))
