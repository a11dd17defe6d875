"""Clips as people film themselves: what is done to their pictures, and when."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sample_clips.as_filmed import HANDLED_S, STALLS, WAYS, main
from sample_clips.redrawn import write
from tests.drawn import DrawnClip
from vision.seeing.clip import open_clip

LENGTH_S = 12.0
CLIP = [(frame.time_s, frame.image) for frame in DrawnClip(seconds=LENGTH_S).frames()]


def off(way: str) -> np.ndarray:
    """By how many grey levels each picture differs from the one that was there, (N,)."""
    shown = WAYS[way](iter(CLIP), LENGTH_S, np.random.default_rng(3))
    return np.array(
        [np.abs(new.astype(float) - old).mean() for (_, new), (_, old) in zip(shown, CLIP, strict=True)]
    )


def test_a_phone_is_handled_at_both_ends_and_stands_in_between() -> None:
    away, time_s = off("handled"), np.array([t for t, _ in CLIP])
    inside = (time_s > HANDLED_S) & (time_s < LENGTH_S - HANDLED_S)
    assert away[inside].max() == 0.0
    assert away[0] > 20.0 and away[-1] > 20.0


@pytest.mark.parametrize("way", ["slipped", "zoomed"])
def test_a_phone_that_slips_or_is_zoomed_stays_so(way: str) -> None:
    away = off(way)
    assert away[-60:].mean() > away[:60].mean() + 1.0
    still = [
        image
        for _, image in WAYS[way](
            iter([(9.0, CLIP[0][1]), (11.0, CLIP[0][1])]), LENGTH_S, np.random.default_rng(3)
        )
    ]
    np.testing.assert_array_equal(*still)


def test_a_clip_that_stalls_shows_a_picture_for_long_and_then_the_one_that_is_due() -> None:
    away = off("stalled")
    assert 1 <= np.count_nonzero((away[1:] > 0) & (away[:-1] == 0)) <= STALLS
    assert 0.05 < np.mean(away > 0) < 0.4


def test_every_picture_twice() -> None:
    shown = [image for _, image in WAYS["doubled"](iter(CLIP), LENGTH_S, np.random.default_rng(3))]
    assert all(np.array_equal(a, b) for a, b in zip(shown[::2], shown[1::2], strict=False))
    assert not np.array_equal(shown[1], shown[2])


def test_the_clip_lies_beside_its_truth(tmp_path: Path) -> None:
    (tmp_path / "made").mkdir()
    write(iter(CLIP[:280]), tmp_path / "made" / "one.mp4", rate_hz=30, crf=23)
    (tmp_path / "made" / "one.truth.json").write_text('{"count": 3}')
    assert main([str(tmp_path / "made"), "--out", str(tmp_path / "out"), "--way", "doubled"]) == 0
    assert open_clip(tmp_path / "out" / "one.mp4").clip.frames == 280
    assert (tmp_path / "out" / "one.truth.json").read_text() == '{"count": 3}'
