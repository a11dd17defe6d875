"""path -> a clip and its frames: true timestamps, upright RGB pictures, nothing left open.

Facts are measured by reading the file's packets, not taken from its header. Frames are streamed, so
memory stays flat with length, and a frame has the same index, time and picture however it is reached.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from av.container import InputContainer
from av.stream import Disposition
from av.video.frame import VideoFrame
from av.video.reformatter import ColorPrimaries, ColorTrc, VideoReformatter
from av.video.stream import VideoStream

from shared.domain import Clip, Floats, Frame, Image, Ints
from shared.errors import ClipError

MAX_SIDE_PX = 8192
MAX_PIXELS = 64_000_000
MAX_DURATION_S = 2 * 3600.0
#: With a smaller share of the pictures readable a damaged clip is refused.
MIN_SHARE = 0.5
#: A smaller share than this is told in ``notes``.
WHOLE_SHARE = 0.98
#: Only containers that hold their own pictures: a playlist would make the reader open other files.
CONTAINERS = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,ogg,flv,asf"
_CLOSE_S = 1e-6
_STEP_SLACK_S = 0.0005
_HDR = (ColorTrc.SMPTE2084, ColorTrc.ARIB_STD_B67)
_TURNS = {1: cv2.ROTATE_90_COUNTERCLOCKWISE, 2: cv2.ROTATE_180, 3: cv2.ROTATE_90_CLOCKWISE}
_NOT_VIDEO = "is not a video that can be read; hand over the clip as the phone recorded it."
_DAMAGED = "is damaged: too little of it can be read; copy it from the phone again."


@dataclass(frozen=True)
class _Scan:
    """What the packets say: pts (n,) sorted and unique; keys: (pts, dts) of keyframes by pts.

    share: packets found over packets promised by the container, at most 1; last_s: the last
    picture's own duration, 0 where unknown.
    """

    stream: int
    time_base: Fraction
    pts: Ints
    keys: tuple[tuple[int, int], ...]
    share: float
    last_s: float


class ClipSource:
    """A clip that can be read any number of times; ``open_clip`` makes one.

    ``notes`` holds sentences about damage that was tolerated; damage inside pictures is known, and
    noted, after the first reading from beginning to end.
    """

    def __init__(self, path: Path, clip: Clip, scan: _Scan, size: tuple[int, int], turn: int):
        self.clip = clip
        self.notes: tuple[str, ...] = ()
        self._path = path
        self._scan = scan
        self._size = size
        self._turn = turn
        self._index = {int(pts): i for i, pts in enumerate(scan.pts)}
        self._time_s = _seconds(scan)
        self._reformatter = VideoReformatter()
        if scan.share < WHOLE_SHARE:
            self.notes = (f"{path.name} breaks off: {scan.share:.0%} of what its header promises was found.",)

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
        last_s = -np.inf
        for index, picture in self._decoded(first):
            time_s = float(self._time_s[index])
            if end_s is not None and time_s > end_s + _CLOSE_S:
                return
            if index < first or time_s - last_s < min_step_s - _STEP_SLACK_S:
                continue
            last_s = time_s
            yield Frame(index, time_s, self._upright(picture))

    def _decoded(self, first: int) -> Iterator[tuple[int, VideoFrame]]:
        """(index, picture) with index rising, from frame ``first`` or some frame before it."""
        key = self._keyframe_before(first)
        with _open(self._path) as container:
            stream = container.streams[self._scan.stream]
            if not isinstance(stream, VideoStream):
                raise _fault(self._path, "has changed since it was opened; start again.")
            if key is not None:
                container.seek(key, stream=stream)
            last, read = -1, 0
            for picture in _pictures(container, stream):
                index = self._index.get(picture.pts, -1)
                if index <= last:
                    continue
                if key is not None and last < 0 and index > first:
                    break  # the container's own index led past the frame: read from the beginning
                last, read = index, read + 1
                yield index, picture
            else:
                if key is None:
                    self._weigh(read)
                return
        yield from self._decoded(0)

    def _keyframe_before(self, first: int) -> int | None:
        """dts of the last keyframe shown at or before frame ``first``; None: read from the start."""
        if first == 0 or first >= len(self._index):
            return None
        wanted = int(self._scan.pts[first])
        before = [dts for pts, dts in self._scan.keys[1:] if pts <= wanted]
        return before[-1] if before else None

    def _weigh(self, read: int) -> None:
        """Refuse or note what a whole reading could not decode."""
        if read < 2 or read < MIN_SHARE * self.clip.frames:
            raise _fault(self._path, _DAMAGED)
        lost = self.clip.frames - read
        note = f"{self._path.name} is damaged: {lost} of {self.clip.frames} pictures could not be read."
        if lost and note not in self.notes:
            self.notes = (*self.notes, note)

    def _upright(self, picture: VideoFrame) -> Image:
        """8-bit BT.709 RGB (H, W, 3), turned upright, contiguous, square pixels.

        PQ and HLG are mapped so that diffuse white (203 cd/m2; BT.2408) is white; brighter lights
        clip, as they do on a standard screen. Dolby Vision without an HDR10 or HLG base layer (no
        phone records it) would have wrong colours, and a mirrored display matrix is not undone.
        """
        if picture.color_trc in _HDR or picture.color_primaries == ColorPrimaries.BT2020:
            picture.color_primaries = ColorPrimaries.BT2020
            if picture.color_trc not in _HDR:
                picture.color_trc = ColorTrc.BT2020_10
            target = {"dst_color_trc": ColorTrc.BT709, "dst_color_primaries": ColorPrimaries.BT709}
        else:
            target = {}
        width, height = self._size
        rgb = self._reformatter.reformat(picture, width, height, "rgb24", **target)
        image: Image = rgb.to_ndarray()
        if self._turn:
            image = cv2.rotate(np.ascontiguousarray(image), _TURNS[self._turn])
        return np.ascontiguousarray(image)


def open_clip(path: Path) -> ClipSource:
    """A video file as a source of frames.

    Times are the container's presentation timestamps (edit lists applied), counted from the first
    picture that can be shown, in rising order; of pictures with the same timestamp the first one in
    decoding order is kept and the others are dropped.

    Raises
    ------
    ClipError : the file is missing, no plain file, empty, no video, without at least two pictures,
        too large (over 8192 pixels a side or 64 megapixels), too long (over 2 h) or too damaged.
    """
    _check_file(path)
    with _open(path) as container:
        stream = _video_stream(container, path)
        _check_size(stream.codec_context.width, stream.codec_context.height, path)
        scan = _scan_packets(container, stream, path)
    with _open(path) as container:
        stream = _video_stream(container, path)
        codec, aspect = stream.codec_context.name, stream.sample_aspect_ratio
        first = next(_pictures(container, stream), None)
    if first is None:
        raise _fault(path, _DAMAGED)
    _check_size(first.width, first.height, path)
    scan = _from_first_picture(scan, first, path)
    size = (_square(first.width, aspect), first.height)
    turn = round(first.rotation / 90) % 4
    return ClipSource(path, _facts(path, scan, size, turn, codec), scan, size, turn)


def _facts(path: Path, scan: _Scan, size: tuple[int, int], turn: int, codec: str) -> Clip:
    time_s = _seconds(scan)
    step_s = scan.last_s if scan.last_s > 0 else float(np.median(np.diff(time_s)))
    width, height = size if turn % 2 == 0 else size[::-1]
    return Clip(
        file=path.name,
        duration_s=float(time_s[-1]) + step_s,
        frames=len(time_s),
        fps_mean=(len(time_s) - 1) / float(time_s[-1]),
        width=width,
        height=height,
        rotation_deg=(360 - 90 * turn) % 360,
        codec=codec,
    )


def _fault(path: Path, what: str) -> ClipError:
    return ClipError(f"{path.name or path} {what}")


def _check_file(path: Path) -> None:
    """Refuse what is no plain file with something in it; a pipe is never opened, it could hang."""
    try:
        size = path.stat().st_size
        plain = path.is_file()
    except FileNotFoundError as error:
        raise _fault(path, "is not there; check the name of the clip.") from error
    except (OSError, ValueError) as error:
        raise _fault(path, "cannot be reached; check the name and the permissions.") from error
    if path.is_dir():
        raise _fault(path, "is a folder; give the video file inside it.")
    if not plain:
        raise _fault(path, "is not a file; save the clip to disk and give that file.")
    if size == 0:
        raise _fault(path, "is empty; copy it from the phone again.")


def _open(path: Path) -> InputContainer:
    options = {"format_whitelist": CONTAINERS, "protocol_whitelist": "file"}
    try:
        return av.open(f"file:{path}", options=options, metadata_errors="replace")
    except av.FFmpegError as error:
        if isinstance(error, PermissionError):
            raise _fault(path, "may not be read; change its permissions.") from error
        raise _fault(path, _NOT_VIDEO) from error
    except UnicodeError as error:
        raise _fault(path, "has a name that cannot be used; rename it.") from error


def _video_stream(container: InputContainer, path: Path) -> VideoStream:
    """The largest moving picture of the file; a cover picture is none."""
    cover = Disposition.attached_pic | Disposition.timed_thumbnails | Disposition.still_image
    moving = [s for s in container.streams.video if not s.disposition & cover]
    if not moving:
        raise _fault(path, "has no moving picture, only sound or a cover; hand over a video.")
    stream = max(moving, key=lambda s: s.codec_context.width * s.codec_context.height)
    stream.thread_type = "AUTO"
    return stream


def _check_size(width: int, height: int, path: Path) -> None:
    if max(width, height) > MAX_SIDE_PX or width * height > MAX_PIXELS:
        raise _fault(path, f"claims {width} x {height} pixels, which is too large; film in 1080p or 4K.")


def _scan_packets(container: InputContainer, stream: VideoStream, path: Path) -> _Scan:
    """Read all packets of the stream without decoding; pts are decoded only where packets lack them."""
    base = stream.time_base
    pts: list[int] = []
    keys: list[tuple[int, int]] = []
    read, known, last = 0, True, (0, 0)
    for packet in _packets(container, stream):
        if packet.is_corrupt or packet.size == 0:
            continue
        read += 1
        known = known and packet.pts is not None
        if packet.is_discard or packet.pts is None:
            continue
        pts.append(packet.pts)
        last = max(last, (packet.pts, packet.duration or 0))
        if packet.is_keyframe and packet.dts is not None:
            keys.append((packet.pts, packet.dts))
        if (packet.pts - pts[0]) * base > MAX_DURATION_S:
            raise _fault(path, "is longer than two hours; cut it to the one set.")
    if not known:
        pts, keys, last = _decoded_pts(path), [], (0, 0)
    promised = stream.frames or read
    share = min(1.0, read / promised) if promised else 0.0
    if share < MIN_SHARE:
        raise _fault(path, _DAMAGED)
    times = np.unique(np.array(pts, dtype=np.int64))
    return _Scan(stream.index, base, times, tuple(sorted(keys)), share, float(last[1] * base))


def _decoded_pts(path: Path) -> list[int]:
    """pts of every picture, by decoding all: for containers whose packets carry none."""
    with _open(path) as container:
        return [p.pts for p in _pictures(container, _video_stream(container, path)) if p.pts is not None]


def _from_first_picture(scan: _Scan, first: VideoFrame, path: Path) -> _Scan:
    """The scan without what comes before the first picture that can be shown."""
    pts = scan.pts if first.pts is None else scan.pts[scan.pts >= first.pts]
    if len(pts) < 2:
        raise _fault(path, "holds a single picture; hand over a video of the whole set.")
    return _Scan(scan.stream, scan.time_base, pts, scan.keys, scan.share, scan.last_s)


def _packets(container: InputContainer, stream: VideoStream) -> Iterator[av.Packet]:
    """Packets up to the end or to where the file breaks off, then the empty one that flushes."""
    try:
        yield from container.demux(stream)
    except av.FFmpegError:
        yield av.Packet()


def _pictures(container: InputContainer, stream: VideoStream) -> Iterator[VideoFrame]:
    """Decoded pictures in presentation order, damaged ones left out."""
    for packet in _packets(container, stream):
        try:
            decoded = stream.decode(packet if packet.size else None)
        except av.FFmpegError:
            continue  # the reader counts what is missing: see ClipSource
        yield from (picture for picture in decoded if not picture.is_corrupt)


def _square(width: int, aspect: Fraction | None) -> int:
    """Width in square pixels; an absurd aspect is taken as square."""
    return round(width * aspect) if aspect and Fraction(1, 4) <= aspect <= 4 else width


def _seconds(scan: _Scan) -> Floats:
    since = scan.pts - scan.pts[0]
    return np.asarray(since * scan.time_base.numerator / scan.time_base.denominator)
