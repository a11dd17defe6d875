"""Clips to time: one sample set, scaled up, at other frame rates, and repeated to any length."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import av

SAMPLE = Path(__file__).parents[2] / "sample_clips" / "leg-extension-clean.mp4"
FLAGGED = SAMPLE.with_name("leg-extension-faulty.mp4")


def made(folder: Path, seconds: float, height: int, rate: int, sample: Path = SAMPLE) -> Path:
    """A portrait clip of a sample set, ``height`` pixels on its short side, as a phone would write it.

    H.264 of one keyframe a second with B-frames; frames are repeated where the rate is above the sample's.
    Kept in ``folder``: a second call costs nothing.
    """
    path = folder / f"{sample.stem}-{seconds:.0f}s-{height}p-{rate}fps.mp4"
    if path.exists():
        return path
    folder.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part.mp4")
    with av.open(str(part), "w", options={"movflags": "+faststart"}) as out:
        options = {"crf": "21", "preset": "veryfast", "g": str(rate), "bf": "2"}
        stream = out.add_stream("libx264", rate=rate, options=options)
        stream.width, stream.height = height, round(height * 16 / 9) // 2 * 2
        stream.pix_fmt = "yuv420p"
        for i, frame in enumerate(_endless(sample, rate)):
            if i >= seconds * rate:
                break
            shown = frame.reformat(stream.width, stream.height, "yuv420p", interpolation="BICUBIC")
            shown.pts, shown.time_base = i, Fraction(1, rate)
            out.mux(stream.encode(shown))
        out.mux(stream.encode(None))
    part.rename(path)
    return path


def repeated(clip: Path, times: int) -> Path:
    """The clip this many times over, without encoding it again: for clips of any length."""
    path = clip.with_name(f"{clip.stem}-x{times}.mp4")
    if path.exists():
        return path
    part = path.with_suffix(".part.mp4")
    with av.open(str(part), "w") as out:
        with av.open(str(clip)) as first:
            stream = out.add_stream_from_template(first.streams.video[0])
        shift = 0
        for _ in range(times):
            with av.open(str(clip)) as source:
                video, end = source.streams.video[0], 0
                for packet in source.demux(video):
                    if packet.dts is None or packet.pts is None:
                        continue
                    end = max(end, packet.pts + (packet.duration or 0))
                    packet.pts, packet.dts, packet.stream = packet.pts + shift, packet.dts + shift, stream
                    out.mux(packet)
                shift += end
    part.rename(path)
    return path


def _endless(sample: Path, rate: int) -> Iterator[av.VideoFrame]:
    """The sample's frames at a rate, each repeated or left out as needed, over and over."""
    while True:
        with av.open(str(sample)) as source:
            video = source.streams.video[0]
            own = float(video.average_rate or 30)
            due = 0.0
            for i, frame in enumerate(source.decode(video)):
                while due <= i / own:
                    due += 1 / rate
                    yield frame
