"""Pictures as a clip, beside the truth of the one that they were made from: for clips that are drawn over."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av

from shared.domain import Image

_CLOCK = 90_000
#: A moment, s, and its upright RGB picture (H, W, 3).
Moment = tuple[float, Image]


def write(shown: Iterable[Moment], path: Path, rate_hz: int, crf: int) -> None:
    """H.264 of these pictures, of one size with even sides; whole or not at all."""
    part, stream = path.with_suffix(".part.mp4"), None
    with av.open(str(part), "w", format="mp4") as written:
        for time_s, picture in shown:
            if stream is None:
                options = {"crf": str(crf), "preset": "veryfast"}
                stream = written.add_stream("libx264", rate=rate_hz, options=options)
                stream.height, stream.width = picture.shape[:2]
                stream.pix_fmt, stream.codec_context.time_base = "yuv420p", Fraction(1, _CLOCK)
                stream.codec_context.thread_count = 1
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame.pts, frame.time_base = round(time_s * _CLOCK), Fraction(1, _CLOCK)
            written.mux(stream.encode(frame))
        if stream is not None:
            written.mux(stream.encode(None))
    part.replace(path)


def with_truth(folder: Path) -> list[Path]:
    """The clips of a folder that have a truth, sorted."""
    return sorted(t.with_name(t.name.replace(".truth.json", ".mp4")) for t in folder.glob("*.truth.json"))


def copy_truth(clip: Path, out: Path) -> None:
    """Beside a clip that was drawn over lies what was done in it and when."""
    for truth in clip.parent.glob(f"{clip.stem}.truth.*"):
        shutil.copy(truth, out)
