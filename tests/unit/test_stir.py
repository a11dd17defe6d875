"""Where anything stirs in a recording: a square that moves now and then, in grain."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from vision.seeing import stir
from vision.seeing.clip import open_clip
from vision.seeing.stir import AROUND_S, REST_S, joined, stirring

RATE, SECONDS = 5, 80


def recording(path: Path, moves: tuple[float, float], key_s: int, light: float = 0.0) -> Path:
    rng = np.random.default_rng(1)
    room = rng.integers(60, 180, (12, 16), dtype=np.uint8).repeat(16, 0).repeat(16, 1)
    with av.open(str(path), "w", options={"movflags": "faststart"}) as out:
        stream = out.add_stream("libx264", rate=RATE)
        stream.height, stream.width, stream.pix_fmt = *room.shape, "yuv420p"
        stream.options = {"g": str(RATE * key_s), "keyint_min": str(RATE * key_s), "sc_threshold": "0"}
        stream.codec_context.time_base = Fraction(1, RATE)
        for k in range(RATE * SECONDS):
            gray = room + rng.normal(0, 3, room.shape) + light * np.sin(k / 9)
            if moves[0] <= k / RATE < moves[1]:
                left = 40 + round(30 * np.sin(k / 3))
                gray[60:120, left : left + 40] = 20
            picture = np.clip(gray, 0, 255).astype(np.uint8)[..., None].repeat(3, -1)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        out.mux(stream.encode(None))
    return path


@pytest.mark.parametrize("key_s", [1, 16], ids=["a key picture a second", "hardly any key picture"])
def test_only_what_stirs_is_looked_at(tmp_path: Path, key_s: int) -> None:
    path = recording(tmp_path / "r.mp4", (30.0, 45.0), key_s)
    ((start_s, end_s),) = stirring(path, open_clip(path))
    assert start_s == pytest.approx(30.0 - AROUND_S, abs=2.1) and start_s <= 30.0 - AROUND_S + 0.1
    assert end_s == pytest.approx(45.0 + AROUND_S, abs=2.1) and end_s >= 45.0 + AROUND_S - 0.1


def test_grain_and_changing_light_are_nobody(tmp_path: Path) -> None:
    path = recording(tmp_path / "r.mp4", (0.0, 0.0), 1, light=25.0)
    assert stirring(path, open_clip(path)) == []


def test_key_pictures_alone_are_decoded_where_there_are_enough(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = recording(tmp_path / "r.mp4", (30.0, 45.0), 1)
    monkeypatch.setattr(stir, "_of_all", lambda source: pytest.fail("every picture was asked for"))
    assert stirring(path, open_clip(path))


@pytest.mark.parametrize("end", ["it breaks off", "a hole"])
def test_what_can_be_read_of_a_damaged_recording_is(tmp_path: Path, end: str) -> None:
    """One bad stretch of a card loses what was on it, and not the hour."""
    path = recording(tmp_path / "r.mp4", (10.0, 20.0), 1)
    data = bytearray(path.read_bytes())
    start, size = data.find(b"mdat") + 4, len(data)
    with av.open(str(path)) as container:
        hole = next(p.pos for p in container.demux(video=0) if p.pts and p.pts * p.time_base >= 60)
    assert start < hole < size
    data[hole : hole + 4000] = bytes(4000)
    path.write_bytes(data if end == "a hole" else data[:hole])
    ((start_s, end_s),) = stirring(path, open_clip(path))[:1]
    assert start_s <= 10.0 - AROUND_S + 0.1 and end_s == pytest.approx(20.0 + AROUND_S, abs=2.1)


def test_short_rests_are_joined_and_long_ones_are_not() -> None:
    near, far = 20.0 + REST_S + AROUND_S - 1, 20.0 + REST_S + AROUND_S + 1
    assert joined([(10.0, 20.0), (near, near + 5)], 100.0) == [(4.0, near + 5 + AROUND_S)]
    assert len(joined([(10.0, 20.0), (far, far + 5)], 100.0)) == 2
