"""A part of a recording as a clip of its own: the same pictures at the right times, nothing of the rest."""

from __future__ import annotations

import hashlib
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from tests.stress.made_clips import matrix
from vision.seeing.clip import open_clip
from vision.seeing.cut import cut

RATE, SECONDS = 10, 20


def recording(path: Path, codec: str = "libx264", key_s: int = 2) -> Path:
    """Each picture is as bright as its number."""
    with av.open(str(path), "w") as out:
        stream = out.add_stream(codec, rate=RATE)
        stream.width, stream.height, stream.pix_fmt = 64, 96, "yuvj420p" if codec == "mjpeg" else "yuv420p"
        if codec == "libx264":
            stream.options = {"g": str(RATE * key_s), "crf": "10", "bf": "2", "sc_threshold": "0"}
            stream.codec_context.time_base = Fraction(1, RATE)
        for k in range(RATE * SECONDS):
            picture = np.full((96, 64, 3), 20 + k, np.uint8)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        out.mux(stream.encode(None))
    return path


def shades(path: Path) -> dict[float, float]:
    """Mean brightness by time."""
    return {round(f.time_s, 3): float(f.image.mean()) for f in open_clip(path).frames()}


@pytest.mark.parametrize(
    ("file", "codec"), [("r.mp4", "libx264"), ("r.mkv", "libx264"), ("r.ts", "libx264"), ("r.mov", "mjpeg")]
)
def test_the_cut_shows_what_was_recorded_when_it_was(tmp_path: Path, file: str, codec: str) -> None:
    path, out = recording(tmp_path / file, codec), tmp_path / "cut.mp4"
    before = hashlib.sha256(path.read_bytes()).hexdigest()
    begun = cut(path, open_clip(path), 7.3, 12.1, out)
    assert 7.3 - 2.0 <= begun <= 7.3 + 1e-6, "from the key picture before, no earlier"
    whole, part = shades(path), shades(out)
    assert min(part) == 0.0 and 12.1 - begun - 0.11 <= max(part) <= 12.1 - begun + 0.35
    assert len(part) >= (12.1 - begun) * RATE - 1, "no picture within is missing"
    for time_s, shade in part.items():
        assert shade == pytest.approx(whole[round(time_s + begun, 3)], abs=4.0)
    assert hashlib.sha256(path.read_bytes()).hexdigest() == before, "the recording is only read"


def test_a_cut_at_the_very_beginning_begins_there(tmp_path: Path) -> None:
    path = recording(tmp_path / "r.mp4")
    assert cut(path, open_clip(path), 0.0, 3.0, tmp_path / "cut.mp4") == 0.0


def test_what_was_filmed_upright_stays_upright(tmp_path: Path) -> None:
    path = recording(tmp_path / "r.mp4")
    path.write_bytes(matrix(path.read_bytes(), 90))
    assert open_clip(path).clip.rotation_deg == 90
    cut(path, open_clip(path), 5.0, 9.0, tmp_path / "cut.mp4")
    assert open_clip(tmp_path / "cut.mp4").clip.rotation_deg == 90


def test_no_sound_is_cut(tmp_path: Path) -> None:
    path, loud = recording(tmp_path / "r.mp4"), tmp_path / "loud.mp4"
    with av.open(str(path)) as silent, av.open(str(loud), "w") as out:
        copy = out.add_stream_from_template(silent.streams.video[0])
        tone = out.add_stream("aac", rate=8000)
        for packet in silent.demux(video=0):
            if packet.pts is not None:
                packet.stream = copy
                out.mux(packet)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
        frame.rate, frame.pts = 8000, 0
        out.mux(tone.encode(frame))
        out.mux(tone.encode(None))
    cut(loud, open_clip(loud), 5.0, 9.0, tmp_path / "cut.mp4")
    with av.open(str(tmp_path / "cut.mp4")) as made:
        assert [stream.type for stream in made.streams] == ["video"]
