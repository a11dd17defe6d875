"""frames -> camera: how the camera moves against the room, from corners that keep their place in it.

The landmark model smooths what it finds from look to look, a trembling hand included. So it is shown the
pictures of a held camera as one that stood would have taken them, and what it finds is put back to where it
lies in the picture.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import cv2
import numpy as np

from shared.domain import Clip, Floats, Frame, Image, Landmarks
from vision.common.seams import Found, FrameSource
from vision.seeing.camera import FAR_S, CameraPath
from vision.seeing.gray import Gray, small
from vision.seeing.known_again import KnownAgain
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
#: It stands where enough corners lie within this of where they were, px of that smaller picture.
STANDS_PX = 1.0
#: A phone stands that moves the picture by less than this share of its long side; a single picture that is
#: moved by less than the second is taken as it is.
STANDS, TREMBLES = 0.003, 0.001
#: It was picked up, or slipped for a moment, where two pictures running are moved by this share.
PICKED_UP = 0.02


def room_corners(gray: Gray, body: Floats, most: int) -> Floats:
    """The clearest corners (N, 2) of a picture that are not on somebody; body: their points (K, 2) in it, px.

    Noise has corners as well, a bare wall has none.
    """
    scale = min(1.0, LONG_SIDE_PX / max(gray.shape))
    view = _blurred(small(gray, scale))
    corners = cv2.goodFeaturesToTrack(view, most, 0.01, 9, mask=off_body(view, scale * body))
    return np.empty((0, 2)) if corners is None else np.asarray(corners[:, 0] / scale, np.float64)


def off_body(view: Gray, body: Floats) -> Gray:
    """255 where a picture (H, W) does not show somebody, else 0; body: their points (K, 2) in it, px."""
    low, high = np.nanmin(body, axis=0), np.nanmax(body, axis=0)
    around = AROUND * (high - low)[1]
    reach = np.maximum(np.array([low - around, high + around]), 0.0).astype(int)
    (left, top), (right, bottom) = reach
    room = np.full(view.shape, 255, np.uint8)
    room[top:bottom, left:right] = 0
    return room


class Camera:
    """The camera's motion since a still, from its corners that kept their place in the room.

    room: 255 where corners may lie, as large as the still, else 0.
    """

    def __init__(
        self, still: Gray, room: Gray | None = None, most: int = MOST_CORNERS, stands_px: float = 0.0
    ):
        found = cv2.goodFeaturesToTrack(still, most, 0.01, 9, mask=room)
        none = np.empty((0, 1, 2), np.float32)
        self._corners = none if found is None else found.astype(np.float32)
        self._still, self._stands_px = still, stands_px
        self._known = KnownAgain(still, room)
        self._last: Floats = np.eye(2, 3)

    def step(self, gray: Gray) -> Floats | None:
        """Map of still px to px of this picture, (2, 3); None where too few corners agree."""
        if len(self._corners) < MIN_CORNERS:
            return None
        there = self._followed(gray, self._last)
        if there is None and (near := self._known.there(gray)) is not None:
            there = self._followed(gray, near)
        self._last = self._last if there is None else there
        return there

    def _followed(self, gray: Gray, near: Floats) -> Floats | None:
        """That map from one near it: the picture is first put where the still would show it."""
        there = cv2.transform(self._corners, near)[:, 0]
        start = self._corners[((there >= 0) & (there < gray.shape[::-1])).all(axis=1)]
        enough = max(MIN_CORNERS, AGREEING * len(start))
        if len(start) < enough:
            return None
        as_still = _warped(gray, _inverse(near), self._still)
        found, good = round_trip(self._still, as_still, start, start)
        if np.count_nonzero(good) < MIN_CORNERS:
            return None
        found = cv2.transform(found, near)
        # A stack of plates that moves may have more corners than a bare room that stands.
        stay = good & (np.linalg.norm((found - start)[:, 0], axis=1) < self._stands_px)
        good = stay if np.count_nonzero(stay) >= enough else good
        affine, inliers = cv2.estimateAffinePartial2D(
            start[good], found[good], method=cv2.RANSAC, ransacReprojThreshold=1.0
        )
        return None if affine is None or np.count_nonzero(inliers) < enough else np.asarray(affine)


class CameraMeter:
    """Finds a clip's camera path while it is looked at, against the picture in its middle."""

    def __init__(self, source: FrameSource, subject: Subject):
        self.clip = source.clip
        self.scale = min(1.0, LONG_SIDE_PX / max(source.clip.width, source.clip.height))
        middle_s = source.clip.duration_s / 2
        still = next(iter(source.frames(middle_s)), None)
        gray = None if still is None else _gray(still.image, self.scale)
        pose = subject.poses_px[int(np.argmin(np.abs(subject.time_s - middle_s)))]
        self._still = None if gray is None else _blurred(gray)
        self._room = None if gray is None else off_body(gray, pose * self.scale)
        self._streams: list[SteadyStream] = []

    def stream(self) -> SteadyStream:
        """For one stream of the clip's frames; several may run side by side."""
        still = self._still
        camera = None if still is None else Camera(still, self._room, CLEAR_CORNERS, STANDS_PX)
        stream = SteadyStream(self.clip, self.scale, camera)
        self._streams.append(stream)
        return stream

    def path(self) -> CameraPath | None:
        """The camera's path; None where the phone stands, or the room hardly tells."""
        seen: dict[float, Floats | None] = {}
        for stream in sorted((s for s in self._streams if s.seen), key=lambda s: min(s.seen)):
            seen = {**stream.seen, **seen}
        told = sorted((time_s, there) for time_s, there in seen.items() if there is not None)
        if len(told) < max(1.0, KNOWN_SHARE * len(seen)):
            return None
        path = CameraPath(np.array([t for t, _ in told]), np.array([there for _, there in told]))
        off = _off(path.to_still, self.clip)
        running = np.diff(path.time_s) <= FAR_S
        picked_up = np.minimum(off[1:], off[:-1])[running].max(initial=0.0) > PICKED_UP
        return path if picked_up or np.percentile(off, 90) > STANDS else None


class SteadyStream:
    """Frames of a held camera as one that stands would take them, and what was found back in its place.

    seen: the map from each frame to the still by its time, px; None where the room did not tell it.
    """

    def __init__(self, clip: Clip, scale: float, camera: Camera | None):
        self.seen: dict[float, Floats | None] = {}
        self._shown: dict[float, Floats] = {}
        self._clip, self._scale, self._camera = clip, scale, camera

    @classmethod
    def as_it_is(cls, clip: Clip) -> SteadyStream:
        """One that leaves every frame as it is."""
        return cls(clip, 1.0, None)

    def steadied(self, frames: Iterable[Frame]) -> Iterator[Frame]:
        """The frames, warped to where the still's camera would have seen them."""
        shown = None
        for frame in frames:
            there = self._to_still(frame)
            self.seen[frame.time_s] = there
            # Where the room does not tell, the picture before has to do, or the person would seem to jump.
            shown = there if there is not None else shown
            if shown is None or _off(shown[None], self._clip)[0] <= TREMBLES:
                yield frame
                continue
            self._shown[frame.time_s] = shown
            yield replace(frame, image=_warped(frame.image, shown, frame.image))

    def put_back(self, look: Landmarks) -> Landmarks:
        """What was found in steadied frames, as it lies in the frames themselves."""
        image = look.image_px.copy()
        for row, time_s in enumerate(look.time_s.tolist()):
            image[row, ..., :2] = self._back(time_s, image[row, ..., :2])
        return replace(look, image_px=image)

    def telling(self, found: Found) -> Found:
        """Tells ``found`` of each look where the points lie in the frame itself."""
        return lambda frame, px: found(frame, None if px is None else self._back(frame.time_s, px))

    def _back(self, time_s: float, px: Floats) -> Floats:
        """Points (..., 2) of the steadied frame of that time as they lie in the frame itself."""
        if (there := self._shown.get(time_s)) is None:
            return px
        back = _inverse(there)
        return np.asarray(px @ back[:, :2].T + back[:, 2])

    def _to_still(self, frame: Frame) -> Floats | None:
        """The map from a frame to the still, px of the whole picture."""
        moved = None if self._camera is None else self._camera.step(_blurred(_gray(frame.image, self._scale)))
        if moved is None:
            return None
        whole = np.column_stack([moved[:, :2], moved[:, 2] / self._scale])
        return _inverse(whole)


def _gray(image: Image, scale: float) -> Gray:
    """A grey picture, smaller by ``scale``, of a coloured one, quickly: it is blurred anyway."""
    size = (round(image.shape[1] * scale), round(image.shape[0] * scale))
    shrunk = cv2.resize(image, size, interpolation=cv2.INTER_LINEAR) if scale < 1.0 else image
    return np.asarray(cv2.cvtColor(shrunk, cv2.COLOR_RGB2GRAY), np.uint8)


def _blurred(gray: Gray) -> Gray:
    return np.asarray(cv2.GaussianBlur(gray, (0, 0), BLUR_PX), np.uint8)


def _inverse(there: Floats) -> Floats:
    """The way back of a map (2, 3)."""
    return np.asarray(cv2.invertAffineTransform(there), np.float64)


def _warped(image: Image, there: Floats, like: Image) -> Image:
    size = (like.shape[1], like.shape[0])
    return np.asarray(cv2.warpAffine(image, there, size, borderMode=cv2.BORDER_REPLICATE), np.uint8)


def _off(to_still: Floats, clip: Clip) -> Floats:
    """How far maps (N, 2, 3) move what lies half way to the corners, (N,) in shares of the long side."""
    places = np.array([(x * clip.width, y * clip.height, 1.0) for x in (0.25, 0.75) for y in (0.25, 0.75)])
    off = np.linalg.norm(np.einsum("nij,kj->nki", to_still, places) - places[:, :2], axis=-1).max(axis=1)
    return np.asarray(off / max(clip.width, clip.height))
