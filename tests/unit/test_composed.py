"""Recordings composed of clips: each picture and each repetition stands where their truth says."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest

from sample_clips import recordings
from sample_clips.passing import Figure, adjusting
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


def _somebody(_: Path) -> tuple[Figure, float]:
    """A red block for head and trunk, 40 px of trunk."""
    image, share = np.zeros((100, 60, 3), np.uint8), np.zeros((100, 60), np.float32)
    image[10:80, 20:40], share[10:80, 20:40] = (200, 30, 30), 1.0
    return Figure(image, share, np.array([30.0, 75.0]), 40.0), 40.0


def test_who_walks_through_is_in_the_picture_for_a_moment_and_no_set(
    clips: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recordings, "_somebody", _somebody)
    truth = compose([{"clip": "lighter", "passes_s": 4.0}], tmp_path / "r.mp4", (clips,))
    assert [(s["start_s"], s["count"]) for s in truth["sets"]] == [(1.0, 3)]
    source = open_clip(tmp_path / "r.mp4")
    spread = [float(next(source.frames(at_s)).image[..., 0].std()) for at_s in (2.0, 5.5, 8.0)]
    assert spread[0] < 3 and spread[2] < 3 and spread[1] > 10


def test_a_trainer_comes_bends_to_the_seat_and_goes() -> None:
    picture, (figure, trunk) = np.full((320, 240, 3), 120, np.uint8), _somebody(Path())
    seen = [adjusting(picture, figure, trunk, at_s, 20.0) for at_s in (0.0, 3.0, 9.375, 10.125, 20.0)]
    assert (seen[0] == picture).all() and (seen[4] == picture).all()
    red = [image[..., 0].astype(int) - image[..., 1] > 100 for image in seen[1:4]]
    reach = [np.flatnonzero(mask.any(axis=0)).max() for mask in red]
    assert min(reach[1:]) > reach[0] + 10, "bent forward"
    assert (red[1] != red[2]).sum() > 100, "to and fro"


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
