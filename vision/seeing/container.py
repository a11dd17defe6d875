"""path -> packets and decoded pictures of a video file; every way to fail is a ClipError.

Facts are measured by reading the file's packets, not taken from its header.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, Literal

import av
import numpy as np
from av.container import InputContainer
from av.stream import Disposition
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from shared.domain import Floats, Ints
from shared.errors import ClipError

MAX_SIDE_PX = 8192
MAX_PIXELS = 64_000_000
#: Of less nothing can be made out, and filters have nothing to work on.
MIN_SIDE_PX = 16
MAX_DURATION_S = 2 * 3600.0
#: With a smaller share of the pictures readable a damaged clip is refused.
MIN_SHARE = 0.5
#: Only containers that hold their own pictures: a playlist would make the reader open other files.
CONTAINERS = "mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,avi,mpegts,mpeg,ogg,flv,asf"
_NOT_VIDEO = "is not a video that can be read; hand over the clip as the phone recorded it."
DAMAGED = "is damaged: too little of it can be read; copy it from the phone again."


@dataclass(frozen=True)
class Scan:
    """What the packets say: pts (n,) sorted and unique; keys: (pts, dts) of keyframes by pts.

    share: packets found over those promised by an mp4 or mov index, at most 1 (1 for other
    containers, which promise nothing reliable); last_s: the last picture's own duration, 0 where
    unknown.
    """

    stream: int
    time_base: Fraction
    pts: Ints
    keys: tuple[tuple[int, int], ...]
    share: float
    last_s: float

    @property
    def time_s(self) -> Floats:
        """Seconds of every picture since the first one, (n,)."""
        since = self.pts - self.pts[0]
        return np.asarray(since * self.time_base.numerator / self.time_base.denominator)


def fault(path: Path, what: str) -> ClipError:
    """The error for a clip, with its name only: reports must not tell where a member's clip lies."""
    return ClipError(f"{shown_name(path)} {what}")


def shown_name(path: Path) -> str:
    """The file's name on one line and in characters that every report and terminal can carry."""
    return " ".join((path.name or str(path)).encode("utf-8", "replace").decode().split())


def check_file(path: Path) -> None:
    """Refuse what is no plain file with something in it; a pipe is never opened, it could hang."""
    try:
        size = path.stat().st_size
        plain = path.is_file()
    except FileNotFoundError as error:
        raise fault(path, "is not there; check the name of the clip.") from error
    except (OSError, ValueError) as error:
        raise fault(path, "cannot be reached; check the name and the permissions.") from error
    if path.is_dir():
        raise fault(path, "is a folder; give the video file inside it.")
    if not plain:
        raise fault(path, "is not a file; save the clip to disk and give that file.")
    if size == 0:
        raise fault(path, "is empty; copy it from the phone again.")


def open_container(path: Path) -> InputContainer:
    """The opened file, to be used in a ``with``; ClipError when it is no video container."""
    options = {"format_whitelist": CONTAINERS, "protocol_whitelist": "file"}
    try:
        opened: InputContainer = av.open(f"file:{path}", options=options, **_title_rule(av.__version__))
        return opened
    except av.FFmpegError as error:
        if isinstance(error, PermissionError):
            raise fault(path, "may not be read; change its permissions.") from error
        raise fault(path, _NOT_VIDEO) from error
    except UnicodeError as error:
        raise fault(path, "has a name that cannot be used; rename it.") from error


def _title_rule(version: str) -> dict[str, Any]:
    """PyAV 18 opens no file whose title is no UTF-8 unless told so; 19 does, and knows no such word."""
    return {} if int(version.partition(".")[0]) >= 19 else {"metadata_errors": "replace"}


def video_stream(container: InputContainer, path: Path) -> VideoStream:
    """The largest moving picture of the file; a cover picture is none."""
    cover = Disposition.attached_pic | Disposition.timed_thumbnails | Disposition.still_image
    moving = [s for s in container.streams.video if not s.disposition & cover]
    if not moving:
        raise fault(path, "has no moving picture, only sound or a cover; hand over a video.")
    moving = [s for s in moving if s.codec_context is not None]
    if not moving:
        raise fault(path, "is damaged, or in a form that cannot be read here; film with the phone's camera.")
    stream = max(moving, key=lambda s: s.codec_context.width * s.codec_context.height)
    stream.thread_type = "SLICE"  # threads for whole pictures cost a fifth more and only pay on idle cores
    return stream


def exact(ratio: Any) -> Fraction | None:
    """A ratio as PyAV gives it (18: a fraction or None, 19: a type of its own, false where unset)."""
    return Fraction(ratio.numerator, ratio.denominator) if ratio else None


def check_size(width: int, height: int, path: Path) -> None:
    """ClipError for a picture of more than 8192 pixels a side or 64 megapixels, or under 16 a side."""
    if 0 < min(width, height) < MIN_SIDE_PX:
        raise fault(path, f"is only {width} x {height} pixels; film in 1080p.")
    if max(width, height) > MAX_SIDE_PX or width * height > MAX_PIXELS:
        raise fault(path, f"claims {width} x {height} pixels, which is too large; film in 1080p or 4K.")


def scan_packets(container: InputContainer, stream: VideoStream, path: Path, least: float) -> Scan:
    """Read all packets of the stream without decoding; pts are decoded only where packets lack them.

    least: with a smaller share of what its index promises the clip is refused.
    """
    base = exact(stream.time_base) or Fraction(1, av.time_base)
    pts: list[int] = []
    keys: list[tuple[int, int]] = []
    read, known, last = 0, True, (0, 0)
    for packet in packets(container, stream):
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
            raise fault(path, "is longer than two hours; cut it to the one set.")
    if not known:
        pts, keys, last = _decoded_pts(path), [], (0, 0)
    counts = "mp4" in container.format.name  # other containers have no index of all their packets
    promised = len(stream.index_entries) if counts else read
    share = min(1.0, read / promised) if promised else 0.0
    if share < least:
        raise fault(path, DAMAGED)
    times = np.unique(np.array(pts, dtype=np.int64))
    return Scan(stream.index, base, times, tuple(sorted(keys)), share, float(last[1] * base))


def _decoded_pts(path: Path) -> list[int]:
    """Timestamps of every picture, by decoding all: for containers whose packets carry none."""
    with open_container(path) as container:
        return [p.pts for p in pictures(container, video_stream(container, path)) if p.pts is not None]


def from_first_picture(scan: Scan, first: VideoFrame, path: Path) -> Scan:
    """The scan without what comes before the first picture that can be shown."""
    pts = scan.pts if first.pts is None else scan.pts[scan.pts >= first.pts]
    if len(pts) < 2:
        raise fault(path, "holds a single picture; hand over a video of the whole set.")
    return Scan(scan.stream, scan.time_base, pts, scan.keys, scan.share, scan.last_s)


def packets(container: InputContainer, stream: VideoStream) -> Iterator[av.Packet[Any]]:
    """Packets up to the end or to where the file breaks off, then the empty one that flushes."""
    try:
        yield from container.demux(stream)
    except av.FFmpegError:
        yield av.Packet()


def pictures(
    container: InputContainer,
    stream: VideoStream,
    wanted: Callable[[int | None], bool] = lambda pts: True,
    skipped: Literal["NONREF", "NONKEY"] = "NONREF",
) -> Iterator[VideoFrame]:
    """Decoded pictures in presentation order, damaged ones left out.

    wanted: whether the picture of these pts is needed; skipped: which of the others are left out, as FFmpeg's
    ``skip_frame`` names them, "NONREF": those that no other picture is built on, "NONKEY": all but key
    pictures. The decoder may not do so in some codecs.
    """
    decoder = stream.codec_context
    for packet in packets(container, stream):
        decoder.skip_frame = "DEFAULT" if wanted(packet.pts) else skipped
        try:
            decoded = stream.decode(packet if packet.size else None)
        except av.FFmpegError:
            continue  # the reader counts what is missing: see ClipSource
        yield from (picture for picture in decoded if not picture.is_corrupt)
