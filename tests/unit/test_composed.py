"""Recordings composed of clips: each picture and each repetition stands where their truth says."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from sample_clips.recordings import CARD_S, compose
from tests.bench.recordings import PLAN, matched
from vision.seeing.clip import open_clip
from vision.seeing.member_cards import shown_card

RATE, SECONDS = 25, 12
REPS = [{"start_s": 1.0 + 3 * k, "end_s": 3.5 + 3 * k, "partial": False} for k in range(3)]


@pytest.fixture
def clips(tmp_path: Path) -> Path:
    """A clip that grows lighter by a shade a picture, and its truth."""
    with av.open(str(tmp_path / "lighter.mp4"), "w") as out:
        stream = out.add_stream("libx264", rate=RATE, options={"crf": "8"})
        stream.width, stream.height, stream.pix_fmt = 240, 320, "yuv420p"
        stream.codec_context.time_base = Fraction(1, RATE)
        for k in range(RATE * SECONDS):
            shade = np.full((320, 240, 3), 20 + k // 2, np.uint8)
            out.mux(stream.encode(av.VideoFrame.from_ndarray(shade, format="rgb24")))
        out.mux(stream.encode(None))
    truth = {"exercise": "leg-curl", "duration_s": SECONDS, "reps": REPS}
    (tmp_path / "lighter.truth.json").write_text(json.dumps(truth))
    return tmp_path


def test_pictures_and_truth_lie_at_the_same_moments(clips: Path, tmp_path: Path) -> None:
    parts = [
        {"clip": "lighter", "who": "Mara", "card": 7},
        {"clip": "lighter", "from_s": 4.0},
        {"clip": "lighter"},
    ]
    truth = compose(parts, tmp_path / "r.mp4", (clips,))
    assert [(s["start_s"], s["end_s"], s["count"], s["who"]) for s in truth["sets"]] == [
        (CARD_S + 1.0, CARD_S + 9.5, 3, "Mara"),
        (CARD_S + 12 + 8 + 1.0, CARD_S + 12 + 8 + 9.5, 3, None),
    ], "of the middle one fewer than three repetitions are whole"
    source = open_clip(tmp_path / "r.mp4")
    assert source.clip.duration_s == pytest.approx(truth["duration_s"]) == CARD_S + 32
    assert shown_card(source.frames(0.0, CARD_S, gray=True)) == 7
    for at_s, shade in ((CARD_S + 4.0, 70), (CARD_S + 12.0, 70), (CARD_S + 24.0, 70)):
        assert next(source.frames(at_s)).image.mean() == pytest.approx(shade, abs=4)


def test_the_plan_names_twelve_recordings_once_each() -> None:
    from sample_clips.recordings import read_plan

    plan = read_plan(PLAN)
    assert len({one["name"] for one in plan}) == len(plan) == 12


def test_a_found_set_counts_for_one_true_one_only() -> None:
    class One:
        start_s, end_s = 10.0, 40.0

    true = [{"start_s": 11.0, "end_s": 39.0}, {"start_s": 100.0, "end_s": 130.0}]
    pairs, false = matched(true, [One(), One()])  # type: ignore[list-item]
    assert len(pairs) == 1 and false == 1
