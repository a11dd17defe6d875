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

from shared.domain import Clip, Frame, Image, Ints
from vision.seeing.container import (
    DAMAGED,
    MIN_SHARE,
    Scan,
    check_file,
    check_size,
    exact,
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
#: Pixel formats whose first plane is 8-bit luma, a byte a pixel: taken as it lies, without a conversion.
_LUMA_FIRST = {"yuv420p", "yuvj420p", "yuv422p", "yuvj422p", "yuv444p", "yuvj444p", "nv12", "nv21"}
_HDR = (ColorTrc.SMPTE2084, ColorTrc.ARIB_STD_B67)
_TURNS = {1: cv2.ROTATE_90_COUNTERCLOCKWISE, 2: cv2.ROTATE_180, 3: cv2.ROTATE_90_CLOCKWISE}


class ClipSource:
    """A clip that can be read any number of times; ``open_clip`` makes one."""

    def __init__(self, path: Path, clip: Clip, scan: Scan, size: tuple[int, int], turn: int):
        self.clip = clip
        self._path = path
        self._scan = scan
        self._size = size
        self._turn = turn
        self._index = {int(pts): i for i, pts in enumerate(scan.pts)}
        self._time_s = scan.time_s
        self._passed, self._asked, self._read = (np.zeros(len(scan.pts), dtype=bool) for _ in range(3))

    def frames(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        min_step_s: float = 0.0,
        gray: bool = False,
    ) -> Iterator[Frame]:
        """Frames from start_s to end_s (s, both included), in presentation order, upright, RGB or grey.

        min_step_s: leave out frames that follow another one by less than this minus 0.5 ms; they are
        not converted, and decoded only where others are built on them. Pictures that cannot be decoded
        are left out. gray: the luma alone, (H, W).

        Raises
        ------
        ClipError : when more than half of the clip's pictures turn out unreadable, or the file is gone.
        """
        reformatter = VideoReformatter()
        for index, picture in self._delivered(self._chosen(start_s, end_s, min_step_s), end_s is None):
            image = self._gray(picture, reformatter) if gray else self._rgb(picture, reformatter)
            yield Frame(index, float(self._time_s[index]), np.ascontiguousarray(self._upright(image)))

    def with_gray(
        self, start_s: float, end_s: float | None, min_step_s: float, gray_step_s: float
    ) -> Iterator[Frame]:
        """See ``vision.common.seams.LimbSource``; raises as ``frames`` does."""
        chosen, reformatter = self._chosen(start_s, end_s, min_step_s), VideoReformatter()
        coloured = set(chosen.tolist())
        gray = self._chosen(start_s, end_s, gray_step_s, chosen)
        for index, picture in self._delivered(gray, end_s is None):
            time_s = float(self._time_s[index])
            yield Frame(index, time_s, self._upright(self._gray(picture, reformatter)))
            if index in coloured:
                yield Frame(index, time_s, self._upright(self._rgb(picture, reformatter)))

    def _delivered(self, chosen: Ints, to_the_end: bool) -> Iterator[tuple[int, VideoFrame]]:
        """(index, picture) of these frames, as far as they can be decoded. Raises as ``frames`` does."""
        if not len(chosen):
            return
        first, last, wanted = int(chosen[0]), int(chosen[-1]), set(chosen.tolist())
        for index, picture in self._decoded(first, wanted):
            if index > last:
                break
            if index in wanted:
                self._read[index] = True
                yield index, picture
        self._weigh(chosen, to_the_end)

    def _chosen(
        self, start_s: float, end_s: float | None, min_step_s: float, anyway: Ints | None = None
    ) -> Ints:
        """Indices of the frames that ``frames`` delivers, rising; those of ``anyway`` are among them."""
        end_s = np.inf if end_s is None else end_s
        inside = (self._time_s >= start_s - _CLOSE_S) & (self._time_s <= end_s + _CLOSE_S)
        always = set() if anyway is None else set(anyway.tolist())
        chosen, last_s = [], -np.inf
        for index in np.flatnonzero(inside).tolist():
            if index in always or self._time_s[index] - last_s >= min_step_s - _STEP_SLACK_S:
                chosen.append(index)
                last_s = self._time_s[index]
        return np.array(chosen, dtype=np.int64)

    def _decoded(self, first: int, wanted: set[int]) -> Iterator[tuple[int, VideoFrame]]:
        """(index, picture) with index rising, from frame ``first`` or some frame before it.

        Of the frames that are not wanted only those that others are built on.
        """
        key = self._keyframe_before(first)

        def is_wanted(pts: int | None) -> bool:
            return pts not in self._index or self._index[pts] in wanted

        with open_container(self._path) as container:
            stream = container.streams[self._scan.stream]
            if not isinstance(stream, VideoStream):
                raise fault(self._path, "has changed since it was opened; start again.")
            if key is not None:
                container.seek(key, stream=stream)
            last = -1
            for picture in pictures(container, stream, is_wanted):
                index = -1 if picture.pts is None else self._index.get(picture.pts, -1)
                if index <= last:
                    continue
                if key is not None and last < 0 and index > first:
                    break  # the container's own index led past the frame: read from the beginning
                last = index
                yield index, picture
            else:
                return
        yield from self._decoded(0, wanted)

    def _keyframe_before(self, first: int) -> int | None:
        """Decoding time of the last keyframe at or before frame ``first``; None: read from the start."""
        if first == 0 or first >= len(self._index):
            return None
        wanted = int(self._scan.pts[first])
        before = [dts for pts, dts in self._scan.keys[1:] if pts <= wanted]
        return before[-1] if before else None

    def _weigh(self, chosen: Ints, to_the_end: bool) -> None:
        """Refuse a clip of which too little could be decoded, once all of it has been gone through.

        Parts of a clip may be read side by side.
        """
        self._asked[chosen] = True
        self._passed[chosen[0] : None if to_the_end else chosen[-1] + 1] = True
        read, asked = int(self._read.sum()), int(self._asked.sum())
        if self._passed.all() and (read < min(2, asked) or read < MIN_SHARE * asked):
            raise fault(self._path, DAMAGED)

    @property
    def notes(self) -> tuple[str, ...]:
        """Sentences about damage that was tolerated.

        Damage inside pictures is known after the first reading from beginning to end, as far as the
        pictures were asked for.
        """
        told = []
        if self._scan.share < WHOLE_SHARE:
            found = f"{self._scan.share:.0%} of what its header promises was found"
            told.append(f"{self.clip.file} breaks off: {found}.")
        lost, asked = int((self._asked & ~self._read).sum()), int(self._asked.sum())
        if self._passed.all() and lost:
            told.append(f"{self.clip.file} is damaged: {lost} of {asked} pictures could not be read.")
        return tuple(told)

    def _gray(self, picture: VideoFrame, reformatter: VideoReformatter) -> Image:
        """8-bit luma (H, W), square pixels, as it was coded where it was coded so; HDR's is not mapped."""
        if picture.format.name in _LUMA_FIRST and (picture.width, picture.height) == self._size:
            plane = picture.planes[0]
            rows: Image = np.frombuffer(memoryview(plane), np.uint8).reshape(-1, plane.line_size)
            return rows[: picture.height, : picture.width]
        return np.asarray(reformatter.reformat(picture, *self._size, "gray").to_ndarray(), dtype=np.uint8)

    def _rgb(self, picture: VideoFrame, reformatter: VideoReformatter) -> Image:
        """8-bit BT.709 RGB (H, W, 3), square pixels.

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
        rgb = reformatter.reformat(picture, *self._size, "rgb24", **target)
        return np.asarray(rgb.to_ndarray(), dtype=np.uint8)

    def _upright(self, image: Image) -> Image:
        """Turned upright; a picture that lies right stays where it was decoded."""
        return np.asarray(cv2.rotate(image, _TURNS[self._turn]), dtype=np.uint8) if self._turn else image


def open_clip(path: Path, coming: bool = False) -> ClipSource:
    """A video file as a source of frames.

    coming: it is still being sent, and however little of it is here will do.

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
        scan = scan_packets(container, stream, path, least=0.0 if coming else MIN_SHARE)
    with open_container(path) as container:
        stream = video_stream(container, path)
        codec, aspect = stream.codec_context.name, exact(stream.sample_aspect_ratio)
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
