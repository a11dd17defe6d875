"""recording -> the stretches in which anything stirs, so that hours of an empty machine cost nearly nothing.

Key pictures alone are decoded where the recording has enough of them; small and grey, each is held against
the one before it.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
from av.video.reformatter import VideoReformatter

from vision.common.seams import FrameSource, Progress
from vision.seeing.clip import ClipSource
from vision.seeing.container import exact, open_container, packets, pictures, video_stream
from vision.seeing.cut import TIME_BASE
from vision.seeing.gray import Gray, small

#: Pictures are compared this small, px of the longer side.
SIDE_PX = 160
#: A key picture at least this often, s, else pictures are taken so often from among all.
STEP_S = 2.0
#: A point has changed by more grey levels than this; with a larger share of them changed something stirs.
#: Noise of a dark phone picture, so small, is two levels.
CHANGED, SHARE = 10, 0.003
#: Stillness shorter than this is no rest, s, and so much before and after is looked at as well.
REST_S, AROUND_S = 8.0, 6.0

Stretch = tuple[float, float]


def stirring(path: Path, source: ClipSource, progress: Progress | None = None) -> list[Stretch]:
    """Stretches (start, end) in s of a recording in which something stirs, in time order, apart.

    Raises
    ------
    ClipError : the recording cannot be read.
    """
    report, length = progress or (lambda share: None), source.clip.duration_s
    moments, before, last_s = list[Stretch](), None, 0.0
    for time_s, gray in _pictures(path, source):
        if before is not None and _differ(before, gray):
            moments.append((last_s, time_s))
        before, last_s = gray, time_s
        report(min(1.0, time_s / length))
    return joined(moments, length)


def joined(moments: list[Stretch], length_s: float) -> list[Stretch]:
    """Moments (start, end) s in time order as stretches over short rests, widened, within the recording."""
    out: list[Stretch] = []
    for start_s, end_s in moments:
        start_s, end_s = max(0.0, start_s - AROUND_S), min(length_s, end_s + AROUND_S)
        if out and start_s - out[-1][1] <= REST_S - AROUND_S:
            out[-1] = out[-1][0], end_s
        else:
            out.append((start_s, end_s))
    return out


def _differ(before: Gray, now: Gray) -> bool:
    """Whether anything but the light of the whole picture changed."""
    change = now.astype(np.int16) - before
    return bool((np.abs(change - int(np.median(change))) > CHANGED).mean() > SHARE)


def _pictures(path: Path, source: ClipSource) -> Iterator[tuple[float, Gray]]:
    """Moments (s) with a small grey picture, at most ``STEP_S`` apart."""
    keys = list(_key_moments(path))
    ends = [*keys, source.clip.duration_s]
    if max(np.diff(ends), default=np.inf) <= STEP_S:
        yield from _key_pictures(path)
    else:
        yield from _of_all(source)


def _key_moments(path: Path) -> Iterator[float]:
    """When each key picture is shown, s since the first one, without decoding any."""
    with open_container(path) as container:
        stream = video_stream(container, path)
        base, first = exact(stream.time_base) or TIME_BASE, None
        for packet in packets(container, stream):
            if packet.is_keyframe and packet.pts is not None:
                first = packet.pts if first is None else first
                yield float((packet.pts - first) * base)


def _key_pictures(path: Path) -> Iterator[tuple[float, Gray]]:
    reformatter = VideoReformatter()
    with open_container(path) as container:
        stream = video_stream(container, path)
        base, first = exact(stream.time_base) or TIME_BASE, None
        for picture in pictures(container, stream, lambda pts: False, skipped="NONKEY"):
            if picture.pts is None:
                continue
            first = picture.pts if first is None else first
            scale = SIDE_PX / max(picture.width, picture.height)
            size = max(2, round(scale * picture.width)), max(2, round(scale * picture.height))
            gray = reformatter.reformat(picture, *size, "gray").to_ndarray()
            yield float((picture.pts - first) * base), np.asarray(gray, dtype=np.uint8)


def _of_all(source: FrameSource) -> Iterator[tuple[float, Gray]]:
    for frame in source.frames(min_step_s=STEP_S, gray=True):
        yield frame.time_s, small(frame.image, SIDE_PX / max(frame.image.shape))
