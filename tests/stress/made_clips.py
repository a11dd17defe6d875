"""Short clips in many forms: cut from the sample clips, or encoded anew from their pictures."""

from __future__ import annotations

import io
import math
import struct
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

import av
import numpy as np

from tests.stress.boxes import only

SAMPLES = Path(__file__).parents[2] / "sample_clips"
MS = Fraction(1, 1000)
#: file, codec, pixel format, size; those that a build cannot make are left out of the corpus by trying.
FORMATS: list[tuple[str, str, str, tuple[int, int]]] = [
    *[("clip.mp4", "libx264", p, (64, 96))
      for p in ("yuv420p", "yuv422p", "yuv444p", "yuv420p10le", "gray", "yuv444p10le", "yuvj420p", "nv12")],
    *[("clip.mp4", "libx264", "yuv444p", s)
      for s in ((33, 35), (1, 1), (2, 2), (3, 400), (2000, 2), (4096, 16), (16, 4096), (641, 479),
                (8192, 64), (8194, 64), (9000, 9000))],
    ("clip.mp4", "libx265", "yuv420p", (64, 96)), ("clip.mov", "libx265", "yuv420p10le", (64, 96)),
    ("clip.mp4", "libsvtav1", "yuv420p", (64, 96)), ("clip.webm", "libvpx-vp9", "yuv420p", (64, 96)),
    ("clip.webm", "libvpx-vp9", "yuva420p", (64, 96)), ("clip.webm", "libvpx-vp9", "yuv444p", (64, 96)),
    ("clip.webm", "libvpx", "yuv420p", (64, 96)), ("clip.webm", "libvpx", "yuva420p", (64, 96)),
    *[(f"clip.{c}", "mpeg4", "yuv420p", (64, 96)) for c in ("mp4", "avi", "mkv", "mov", "3gp", "ts", "ogg")],
    *[(f"clip.{c}", "mjpeg", "yuvj420p", (64, 96)) for c in ("avi", "mov", "mkv", "mjpeg")],
    ("clip.mov", "prores_ks", "yuv422p10le", (64, 96)), ("clip.mov", "prores_ks", "yuva444p10le", (64, 96)),
    ("clip.mov", "qtrle", "argb", (64, 96)), ("clip.mov", "png", "rgba", (64, 96)),
    ("clip.mov", "rawvideo", "rgba", (64, 96)), ("clip.avi", "rawvideo", "bgr24", (63, 95)),
    ("clip.mkv", "ffv1", "yuv420p", (64, 96)), ("clip.mkv", "ffv1", "bgr0", (64, 96)),
    ("clip.mkv", "ffv1", "gray16le", (64, 96)), ("clip.avi", "huffyuv", "yuv422p", (64, 96)),
    ("clip.avi", "utvideo", "gbrp", (64, 96)), ("clip.avi", "magicyuv", "gbrap", (64, 96)),
    ("clip.mpg", "mpeg1video", "yuv420p", (64, 96)), ("clip.mpg", "mpeg2video", "yuv420p", (64, 96)),
    ("clip.ts", "mpeg2video", "yuv422p", (64, 96)), ("clip.flv", "flv", "yuv420p", (64, 96)),
    ("clip.3gp", "h263", "yuv420p", (176, 144)), ("clip.asf", "wmv2", "yuv420p", (64, 96)),
    ("clip.asf", "msmpeg4", "yuv420p", (64, 96)), ("clip.avi", "msvideo1", "rgb555le", (64, 96)),
    ("clip.avi", "cinepak", "rgb24", (64, 96)), ("clip.mov", "svq1", "yuv410p", (64, 96)),
    ("clip.avi", "zmbv", "bgr0", (64, 96)), ("clip.avi", "snow", "yuv420p", (64, 96)),
    ("clip.mov", "cfhd", "yuv422p10le", (64, 96)), ("clip.mov", "dnxhd", "yuv422p", (1280, 720)),
    ("clip.mov", "v210", "yuv422p10le", (64, 96)), ("clip.mov", "jpeg2000", "rgb24", (64, 96)),
    ("clip.gif", "gif", "rgb8", (64, 96)), ("clip.png", "apng", "rgba", (64, 96)),
    ("clip.webp", "libwebp_anim", "yuva420p", (64, 96)), ("clip.mkv", "vc2", "yuv420p", (64, 96)),
    ("clip.dv", "dvvideo", "yuv420p", (720, 576)), ("clip.swf", "flv", "yuv420p", (64, 96)),
    ("clip.y4m", "wrapped_avframe", "yuv420p", (64, 96)), ("clip.h264", "libx264", "yuv420p", (64, 96)),
    ("clip.bmp", "bmp", "bgr24", (64, 96)), ("clip.jpg", "mjpeg", "yuvj420p", (64, 96)),
]  # fmt: skip


@lru_cache(maxsize=32)
def base(which: int) -> bytes:
    """The first second and a half of a sample clip, its packets untouched."""
    path = sorted(SAMPLES.glob("*.mp4"))[which]
    out = io.BytesIO()
    with av.open(str(path)) as source, av.open(out, "w", format="mp4") as target:
        stream = source.streams.video[0]
        copy = target.add_stream_from_template(stream)
        for packet in source.demux(stream):
            if packet.dts is None or float(packet.dts * packet.time_base) > 1.5:
                break
            packet.stream = copy
            target.mux(packet)
    return out.getvalue()


@lru_cache(maxsize=1)
def _pictures() -> list[av.VideoFrame]:
    with av.open(io.BytesIO(base(0))) as container:
        return list(container.decode(video=0))[:12]


def made(
    path: Path,
    codec: str = "libx264",
    pixels: str = "yuv420p",
    size: tuple[int, int] = (64, 96),
    times: list[int] | None = None,
) -> Path:
    """A clip of the sample's pictures in another form; times: a timestamp in ms each."""
    pictures = _pictures()
    times = [40 * i for i in range(10 if size[0] * size[1] < 10**7 else 3)] if times is None else times
    with av.open(str(path), "w", options={}) as out:
        stream = out.add_stream(codec, rate=25 if codec != "libx264" else 1000)
        stream.width, stream.height, stream.pix_fmt = *size, pixels
        if codec in ("libx264", "libvpx-vp9", "ffv1"):
            stream.codec_context.time_base = MS
        base_s = stream.codec_context.time_base or MS
        for i, ms in enumerate(times):
            frame = pictures[i % len(pictures)].reformat(*size, format=pixels)
            frame.pts, frame.time_base = round(Fraction(ms, 1000) / base_s), base_s
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def matrix(data: bytes, turn: int | str) -> bytes:
    """A clip with another display matrix: degrees clockwise, or a nonsensical one."""
    one = 1 << 16
    if isinstance(turn, int):
        cos, sin = (round(f(math.radians(turn)) * one) for f in (math.cos, math.sin))
        numbers = (cos, sin, 0, -sin, cos, 0, 0, 0, 1 << 30)
    else:
        numbers = {
            "zero": (0,) * 9, "huge": (0x7FFFFFFF,) * 9, "mirror": (-one, 0, 0, 0, one, 0, 0, 0, 1 << 30),
        }[turn]  # fmt: skip
    at = only(data, "tkhd").start + 8 + 40
    return data[:at] + struct.pack(">9i", *numbers) + data[at + 36 :]


def with_audio_only(folder: Path) -> Path:
    """Two seconds of a tone in an mp4."""
    path = folder / "clip.mp4"
    with av.open(str(path), "w") as out:
        _tone(out)
    return path


def with_cover_only(folder: Path) -> Path:
    """A tone with a cover picture."""
    path = folder / "clip.mp4"
    picture = io.BytesIO()
    with av.open(picture, "w", format="mjpeg") as drawn:
        stream = drawn.add_stream("mjpeg", rate=1)
        stream.width, stream.height, stream.pix_fmt = 64, 96, "yuvj420p"
        drawn.mux(stream.encode(_pictures()[0].reformat(64, 96, format="yuvj420p")))
        drawn.mux(stream.encode(None))
    with av.open(str(path), "w") as out, av.open(io.BytesIO(picture.getvalue()), format="mjpeg") as source:
        cover = out.add_stream_from_template(source.streams.video[0])
        cover.disposition = av.stream.Disposition.attached_pic
        _tone(out)
        packet = next(source.demux(video=0))
        packet.stream, packet.pts, packet.dts = cover, 0, 0
        out.mux(packet)
    return path


def _tone(out: av.container.OutputContainer) -> None:
    stream = out.add_stream("aac", rate=8000)
    for i in range(16):
        wave = np.sin(np.arange(1024 * i, 1024 * (i + 1)) * 0.3)[None, :].astype(np.float32)
        frame = av.AudioFrame.from_ndarray(wave, format="fltp", layout="mono")
        frame.rate, frame.pts = 8000, 1024 * i
        out.mux(stream.encode(frame))
    out.mux(stream.encode(None))
