"""frames -> marks: follow points that a person marked on the machine, with OpenCV.

The camera's own motion comes from corners of the still in which the mark was given, found anew in
each frame. A pivot moves with the camera alone. A stack or a handle is followed by optical flow that
is checked forward and backward, and each step is held against the marked still itself, so that small
errors do not add up. Where neither agrees the mark is lost, and searched for until it is found.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import cv2
import numpy as np

from shared.domain import Floats, Frame
from shared.errors import UsageError
from vision.common.pinhole import Tilt, focal_px
from vision.common.seams import FrameSource, Progress
from vision.seeing.camera_tracker import Camera
from vision.seeing.gray import LONG_SIDE_PX, STEP_S, Gray, small
from vision.seeing.mark_follow import Fixed, Moving, map_px
from vision.seeing.marks import MOVING, MarkPath, MarkPoint
from vision.seeing.tilt import find_tilt

#: Backward, the clip is read in pieces of this many seconds.
PIECE_S = 4.0
#: A patch's pixel belongs to the room behind when it looks the same (grey levels) in this share of
#: glimpses of the clip.
SAME_GREY = 10
ROOM_SHARE = 0.8
GLIMPSE_STEP_S = 0.7
GLIMPSES = 40


def track_marks(
    source: FrameSource, points: Sequence[MarkPoint], progress: Progress | None = None
) -> dict[str, MarkPath]:
    """Every mark's path, by name.

    Raises
    ------
    UsageError : a mark lies where the clip has no picture. ClipError : the clip cannot be read.
    """
    report = progress or (lambda share: None)
    paths = {}
    for done, time_s in enumerate(times := sorted({p.time_s for p in points})):
        group = [p for p in points if p.time_s == time_s]
        still = _still(source, group[0])

        def part(share: float, done: int = done, of: int = len(times)) -> None:
            report((done + share) / of)

        paths.update(_from_still(source, still, group, part))
    return {p.name: paths[p.name] for p in points}


def _still(source: FrameSource, point: MarkPoint) -> Frame:
    """The first frame at or after the mark's moment, else the last one before it."""
    for frame in source.frames(point.time_s, gray=True):
        return frame
    before = list(source.frames(max(0.0, point.time_s - 0.3), gray=True))
    if not before:
        raise UsageError(f"--mark {point.name}: the clip has no picture at {point.time_s:g} s.")
    return before[-1]


def _from_still(
    source: FrameSource, still: Frame, points: Sequence[MarkPoint], progress: Progress
) -> dict[str, MarkPath]:
    scale = min(1.0, LONG_SIDE_PX / max(still.image.shape[:2]))
    length = max(source.clip.duration_s, 1e-6)
    picture = small(still.image, scale)
    moving = _moving_pixels(source, picture, scale) if any(p.name in MOVING for p in points) else None
    rows: dict[str, dict[float, tuple[Floats, Floats, float]]] = {p.name: {} for p in points}
    for frames in (_backward(source, still.time_s), source.frames(still.time_s, None, STEP_S, gray=True)):
        camera = Camera(picture)
        followers = {p.name: _follower(p, picture, scale, moving) for p in points}
        for frame in frames:
            gray = small(frame.image, scale)
            moved = camera.step(gray)
            for name, follower in followers.items():
                xy, confidence = follower.step(gray, moved)
                steady = map_px(cv2.invertAffineTransform(moved), xy) if moved is not None else xy * np.nan
                rows[name][frame.time_s] = xy / scale, steady / scale, confidence
            progress(min(1.0, abs(frame.time_s - still.time_s) / length))
    tilt = find_tilt(picture, focal_px(picture.shape)) if any(p.name == "pivot" for p in points) else None
    return {p.name: _path(p, rows[p.name], tilt) for p in points}


def _path(point: MarkPoint, rows: dict[float, tuple[Floats, Floats, float]], tilt: Tilt | None) -> MarkPath:
    times = sorted(rows)
    xy = np.array([rows[t][0] for t in times]).reshape(-1, 2)
    steady = np.array([rows[t][1] for t in times]).reshape(-1, 2)
    return MarkPath(point, np.array(times), xy, steady, np.array([rows[t][2] for t in times]), tilt)


def _backward(source: FrameSource, start_s: float) -> Iterator[Frame]:
    """Frames from start_s back to the clip's beginning."""
    end_s = start_s
    while end_s > 0:
        begin_s = max(0.0, end_s - PIECE_S)
        yield from reversed(list(source.frames(begin_s, end_s, STEP_S, gray=True)))
        end_s = begin_s - STEP_S if begin_s > 0 else -1.0


def _moving_pixels(source: FrameSource, still: Gray, scale: float) -> np.ndarray:
    """Which of the still's pixels (H, W) do not belong to the room that stands behind what moves."""
    step = max(GLIMPSE_STEP_S, source.clip.duration_s / GLIMPSES)
    camera, same, count = Camera(still), np.zeros(still.shape, np.float32), 0
    for frame in source.frames(min_step_s=step, gray=True):
        gray = small(frame.image, scale)
        moved = camera.step(gray)
        if moved is None:
            continue
        aligned = cv2.warpAffine(
            gray, moved, (still.shape[1], still.shape[0]), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        )
        same += cv2.absdiff(aligned, still) <= SAME_GREY
        count += 1
    return np.asarray(same < ROOM_SHARE * max(count, 1))


def _follower(point: MarkPoint, still: Gray, scale: float, moving: np.ndarray | None) -> Fixed | Moving:
    xy = np.array([point.x, point.y]) * scale
    if moving is None or point.name not in MOVING:
        return Fixed(xy)
    return Moving(still, xy, point.name == "handle", moving)
