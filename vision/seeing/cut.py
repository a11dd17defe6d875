"""recording -> a clip of a part of it, its pictures as they were recorded, without sound.

Pictures are copied as they are from the key picture before the wanted start on; where the file cannot hold
them so they are encoded anew.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
from av.container import InputContainer, OutputContainer
from av.video.stream import VideoStream

from shared.errors import InternalError
from vision.seeing.clip import ClipSource
from vision.seeing.container import exact, open_container, pictures, video_stream

#: Codecs that an mp4 holds as every phone and browser plays it.
COPIED = ("h264", "hevc", "av1", "vp9")
_CLOSE_S = 1e-3
#: Of what is written, and of files that do not say theirs.
TIME_BASE = Fraction(1, 90_000)


def cut(path: Path, source: ClipSource, start_s: float, end_s: float, out: Path) -> float:
    """Write the pictures from ``start_s`` to ``end_s`` as an mp4; the moment (s) at which it begins.

    It begins with the key picture at or before ``start_s`` where pictures are copied.

    Raises
    ------
    ClipError : the recording cannot be read. InternalError : the clip cannot be written.
    """
    try:
        begun_s = _copied(path, start_s, end_s, out) if source.clip.codec in COPIED else None
        if begun_s is None or begun_s > start_s + _CLOSE_S:  # a file whose own index leads past the picture
            return _encoded(source, start_s, end_s, out)
        return begun_s
    except (av.FFmpegError, OSError) as error:
        raise InternalError(
            f"Writing the cut {out.name} failed ({error.strerror}); check the free space and run again."
        ) from error


def _copied(path: Path, start_s: float, end_s: float, out: Path) -> float:
    with open_container(path) as container:
        first = next(pictures(container, video_stream(container, path))).pts or 0
    with open_container(path) as container, _mp4(out) as target:
        stream = video_stream(container, path)
        base = exact(stream.time_base) or TIME_BASE
        copy = target.add_stream_from_template(stream)
        begun = _copy(
            container,
            stream,
            target,
            copy,
            wanted=(first + start_s / float(base), first + end_s / float(base)),
        )
    return float((begun - first) * base)


def _copy(
    container: InputContainer, stream: VideoStream, target: OutputContainer, copy: VideoStream,
    wanted: tuple[float, float],
) -> int:  # fmt: skip
    """Copy the packets that show what is wanted, timestamps from 0; the first one's own timestamp."""
    container.seek(max(0, int(wanted[0])), stream=stream)
    begun: int | None = None
    for packet in container.demux(stream):
        if packet.pts is None or packet.dts is None:
            continue
        if begun is None and not packet.is_keyframe:
            continue
        begun = packet.pts if begun is None else begun
        if packet.dts > wanted[1]:
            break
        if packet.pts < begun:
            continue  # shown before the key picture, and built on what is not here
        packet.pts, packet.dts = packet.pts - begun, packet.dts - begun
        packet.stream = copy
        target.mux(packet)
    if begun is None:
        raise InternalError("A part of the recording holds no picture that could be copied; run again.")
    return begun


def _encoded(source: ClipSource, start_s: float, end_s: float, out: Path) -> float:
    begun: float | None = None
    with _mp4(out) as target:
        stream = target.add_stream("libx264", rate=30, options={"crf": "18", "preset": "veryfast"})
        stream.width, stream.height = source.clip.width // 2 * 2, source.clip.height // 2 * 2
        stream.pix_fmt, stream.codec_context.time_base = "yuv420p", TIME_BASE
        for frame in source.frames(start_s, end_s):
            begun = frame.time_s if begun is None else begun
            picture = av.VideoFrame.from_ndarray(frame.image[: stream.height, : stream.width], format="rgb24")
            picture.pts, picture.time_base = round((frame.time_s - begun) / TIME_BASE), TIME_BASE
            target.mux(stream.encode(picture))
        target.mux(stream.encode(None))
    return begun or 0.0


def _mp4(out: Path) -> OutputContainer:
    return av.open(str(out), "w", format="mp4", options={"movflags": "+faststart"})
