"""A clip as a poor phone in somebody's hand would have taken it."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from sample_clips import made_worse
from sample_clips.made_worse import Worse, main
from tests.drawn import DrawnClip

GOOD = Worse(
    short_px=360, light=1.0, noise=0.0, rate_hz=30, crf=18, roll_deg=0.0, wander=0.0, blurred=False,
    sway=0.0, pulse=0.0,
)  # fmt: skip
POOR = replace(GOOD, short_px=240, light=0.5, noise=7.0, rate_hz=24, crf=31, wander=0.03, blurred=True)


@pytest.fixture
def clips(tmp_path: Path) -> Path:
    """A folder with a second of a drawn clip and its truth."""
    folder = tmp_path / "clips"
    folder.mkdir()
    with av.open(str(folder / "drawn.mp4"), "w") as written:
        stream = written.add_stream("libx264", rate=30, options={"crf": "18"})
        stream.width, stream.height, stream.pix_fmt = 360, 480, "yuv420p"
        for frame in DrawnClip(seconds=1.5).frames():
            picture = av.VideoFrame.from_ndarray(frame.image, format="rgb24")
            picture.pts, picture.time_base = frame.index, Fraction(1, 30)
            written.mux(stream.encode(picture))
        written.mux(stream.encode(None))
    (folder / "drawn.truth.json").write_text('{"count": 3}')
    np.savez(folder / "drawn.truth.npz", time_s=np.zeros(1))
    return folder


def pictures(clips: Path, out: Path, how: Worse, monkeypatch: pytest.MonkeyPatch) -> list[np.ndarray]:
    out.mkdir()
    monkeypatch.setattr(Worse, "drawn", classmethod(lambda cls, rng: how))
    made_worse.spoil(clips / "drawn.mp4", out)
    return seen(out / "drawn.mp4")


def seen(clip: Path) -> list[np.ndarray]:
    with av.open(str(clip)) as container:
        return [frame.to_ndarray(format="gray").astype(float) for frame in container.decode(video=0)]


def test_it_is_smaller_darker_rarer_and_wanders(
    clips: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good, poor = (
        pictures(clips, tmp_path / name, how, monkeypatch) for name, how in (("good", GOOD), ("poor", POOR))
    )
    assert (good[0].shape, poor[0].shape) == ((480, 360), (320, 240))
    assert (len(good), len(poor)) == (45, 36)
    assert np.mean(poor) == pytest.approx(0.5 * np.mean(good), rel=0.1)
    corner = (slice(0, 60), slice(0, 60))
    assert np.std(poor, axis=0)[corner].mean() > 3 * np.std(good, axis=0)[corner].mean()


def test_a_hand_that_sways_moves_the_edges_and_light_that_pulses_all(
    clips: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    swaying, pulsing = replace(GOOD, sway=0.014), replace(GOOD, pulse=0.25)
    good, swayed, pulsed = (
        pictures(clips, tmp_path / name, how, monkeypatch)
        for name, how in (("good", GOOD), ("sways", swaying), ("pulses", pulsing))
    )
    corner = (slice(0, 60), slice(0, 60))
    assert np.std(swayed, axis=0)[corner].mean() > 3 * np.std(good, axis=0)[corner].mean()
    light = [picture.mean() for picture in pulsed]
    assert max(light) / min(light) == pytest.approx(1.25 / 0.75, rel=0.1)
    assert np.mean(light) == pytest.approx(np.mean(good), rel=0.1)


def test_what_was_done_stays_true_and_how_it_was_spoilt_is_told(clips: Path, tmp_path: Path) -> None:
    for name in ("one", "other"):
        assert main([str(clips), "--out", str(tmp_path / name)]) == 0
    assert json.loads((tmp_path / "one" / "drawn.truth.json").read_text()) == {"count": 3}
    assert (tmp_path / "one" / "drawn.truth.npz").exists()
    told = json.loads((tmp_path / "one" / "made_worse.json").read_text())
    assert set(told["drawn"]) == set(Worse.__dataclass_fields__)
    assert told == json.loads((tmp_path / "other" / "made_worse.json").read_text())
