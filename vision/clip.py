"""path -> a clip and its frames: true timestamps, upright RGB pictures, nothing left open.

Frames are streamed, so memory stays flat with length, and a frame has the same index, time and
picture however it is reached.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import ColorPrimaries, ColorTrc, VideoReformatter
from av.video.stream import VideoStream

from shared.domain import Clip, Frame, Image
from vision.container import (
    DAMAGED,
    MIN_SHARE,
    Scan,
    check_file,
    check_size,
    fault,
    from_first_picture,
    open_container,
    pictures,
    scan_packets,
    shown_name,
    video_stream,
)

#: A smaller share of the promised packets than this is told in ``notes``.
WHOLE_SHARE = 0.98
_CLOSE_S = 1e-6
_STEP_SLACK_S = 0.0005
_HDR = (ColorTrc.SMPTE2084, ColorTrc.ARIB_STD_B67)
_TURNS = {1: cv2.ROTATE_90_COUNTERCLOCKWISE, 2: cv2.ROTATE_180, 3: cv2.ROTATE_90_CLOCKWISE}


class ClipSource:
    """A clip that can be read any number of times; ``open_clip`` makes one.

    ``notes`` holds sentences about damage that was tolerated; damage inside pictures is known, and
    noted, after the first reading from beginning to end.
    """

    def __init__(self, path: Path, clip: Clip, scan: Scan, size: tuple[int, int], turn: int):
        self.clip = clip
        self.notes: tuple[str, ...] = ()
        self._path = path
        self._scan = scan
        self._size = size
        self._turn = turn
        self._index = {int(pts): i for i, pts in enumerate(scan.pts)}
        self._time_s = scan.time_s
        self._asked = np.zeros(len(scan.pts), dtype=bool)
        self._read = np.zeros(len(scan.pts), dtype=bool)
        if scan.share < WHOLE_SHARE:
            self.notes = (
                f"{shown_name(path)} breaks off: {scan.share:.0%} of what its header promises was found.",
            )

    def frames(
        self, start_s: float = 0.0, end_s: float | None = None, min_step_s: float = 0.0
    ) -> Iterator[Frame]:
        """Frames from start_s to end_s (s, both included), in presentation order, upright RGB.

        min_step_s: leave out frames that follow a delivered one by less than this minus 0.5 ms;
        they are decoded but not converted. Pictures that cannot be decoded are left out.

        Raises
        ------
        ClipError : when more than half of the clip's pictures turn out unreadable, or the file is gone.
        """
        first = int(np.searchsorted(self._time_s, start_s - _CLOSE_S))
        last_s, reformatter = -np.inf, VideoReformatter()
        for index, picture in self._decoded(first):
            if not self._asked.all():
                self._read[index] = True
            time_s = float(self._time_s[index])
            if end_s is not None and time_s > end_s + _CLOSE_S:
                self._weigh(first, index)
                return
            if index < first or time_s - last_s < min_step_s - _STEP_SLACK_S:
                continue
            last_s = time_s
            yield Frame(index, time_s, self._upright(picture, reformatter))
        self._weigh(first, len(self._read))

    def _decoded(self, first: int) -> Iterator[tuple[int, VideoFrame]]:
        """(index, picture) with index rising, from frame ``first`` or some frame before it."""
        key = self._keyframe_before(first)
        with open_container(self._path) as container:
            stream = container.streams[self._scan.stream]
            if not isinstance(stream, VideoStream):
                raise fault(self._path, "has changed since it was opened; start again.")
            if key is not None:
                container.seek(key, stream=stream)
            last = -1
            for picture in pictures(container, stream):
                index = -1 if picture.pts is None else self._index.get(picture.pts, -1)
                if index <= last:
                    continue
                if key is not None and last < 0 and index > first:
                    break  # the container's own index led past the frame: read from the beginning
                last = index
                yield index, picture
            else:
                return
        yield from self._decoded(0)

    def _keyframe_before(self, first: int) -> int | None:
        """Decoding time of the last keyframe at or before frame ``first``; None: read from the start."""
        if first == 0 or first >= len(self._index):
            return None
        wanted = int(self._scan.pts[first])
        before = [dts for pts, dts in self._scan.keys[1:] if pts <= wanted]
        return before[-1] if before else None

    def _weigh(self, first: int, end: int) -> None:
        """Refuse or note what could not be decoded, once every picture has been asked for.

        Parts of a clip may be read side by side.
        """
        self._asked[first:end] = True
        if not self._asked.all():
            return
        read = int(np.count_nonzero(self._read))
        if read < 2 or read < MIN_SHARE * self.clip.frames:
            raise fault(self._path, DAMAGED)
        lost = self.clip.frames - read
        note = f"{self.clip.file} is damaged: {lost} of {self.clip.frames} pictures could not be read."
        if lost and note not in self.notes:
            self.notes = (*self.notes, note)

    def _upright(self, picture: VideoFrame, reformatter: VideoReformatter) -> Image:
        """8-bit BT.709 RGB (H, W, 3), turned upright, contiguous, square pixels.

        PQ and HLG are mapped so that diffuse white (203 cd/m2; BT.2408) is white; brighter lights
        clip, as they do on a standard screen. Dolby Vision without an HDR10 or HLG base layer (no
        phone records it) would have wrong colours, and a mirrored display matrix is not undone.
        """
        target: dict[str, Any] = {}
        if picture.color_trc in _HDR or picture.color_primaries == ColorPrimaries.BT2020:
            picture.color_primaries = ColorPrimaries.BT2020
            if picture.color_trc not in _HDR:
                picture.color_trc = ColorTrc.BT2020_10
            target = {"dst_color_trc": ColorTrc.BT709, "dst_color_primaries": ColorPrimaries.BT709}
        width, height = self._size
        rgb = reformatter.reformat(picture, width, height, "rgb24", **target)
        image: Image = np.ascontiguousarray(rgb.to_ndarray(), dtype=np.uint8)
        if self._turn:
            image = np.ascontiguousarray(cv2.rotate(image, _TURNS[self._turn]), dtype=np.uint8)
        return image


def open_clip(path: Path) -> ClipSource:
    """A video file as a source of frames.

    Times are the container's presentation timestamps (edit lists applied), counted from the first
    picture that can be shown, in rising order; of pictures with the same timestamp the first one in
    decoding order is kept and the others are dropped.

    Raises
    ------
    ClipError : the file is missing, no plain file, empty, no video, without at least two pictures,
        too large (over 8192 pixels a side or 64 megapixels), too small (under 16 a side), too long
        (over 2 h) or too damaged.
    """
    check_file(path)
    with open_container(path) as container:
        stream = video_stream(container, path)
        check_size(stream.codec_context.width, stream.codec_context.height, path)
        scan = scan_packets(container, stream, path)
    with open_container(path) as container:
        stream = video_stream(container, path)
        codec, aspect = stream.codec_context.name, stream.sample_aspect_ratio
        first = next(pictures(container, stream), None)
    if first is None:
        raise fault(path, DAMAGED)
    check_size(first.width, first.height, path)
    scan = from_first_picture(scan, first, path)
    size = (_square(first.width, aspect), first.height)
    turn = round(first.rotation / 90) % 4
    return ClipSource(path, _facts(path, scan, size, turn, codec), scan, size, turn)


def _facts(path: Path, scan: Scan, size: tuple[int, int], turn: int, codec: str) -> Clip:
    time_s = scan.time_s
    step_s = scan.last_s if scan.last_s > 0 else float(np.median(np.diff(time_s)))
    width, height = size if turn % 2 == 0 else size[::-1]
    return Clip(
        file=shown_name(path),
        duration_s=float(time_s[-1]) + step_s,
        frames=len(time_s),
        fps_mean=(len(time_s) - 1) / float(time_s[-1]),
        width=width,
        height=height,
        rotation_deg=(360 - 90 * turn) % 360,
        codec=codec,
    )


def _square(width: int, aspect: Fraction | None) -> int:
    """Width in square pixels; an absurd aspect is taken as square."""
    return round(width * aspect) if aspect and Fraction(1, 4) <= aspect <= 4 else width
