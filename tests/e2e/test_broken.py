"""A pipeline that was broken on purpose misses the bench's targets on a sample clip; a sound one meets them.

Every fifth picture without its person is no break: gaps of that length are bridged.
"""

from __future__ import annotations

import json
from functools import cache

import pytest

from sample_clips.looks import truth_arrays
from sample_clips.measure import measure
from shared.exercise import find_exercise
from tests.bench.broken import WAYS, spoilt
from tests.bench.table import figures
from tests.e2e.test_sample_clips import CLIPS
from vision.judging.options import Options
from vision.pipeline import judge_seen
from vision.seeing.clip import open_clip
from vision.seeing.look import Seen, look
from vision.seeing.pose_mediapipe import MediaPipePose

NAME = "leg-extension-clean"
#: Parts of the names of figures that one clip of a leg machine can answer for.
ASKED = ("repetition count", " time, ", " duration, ", "knee at both ends, within", "false flags", "fit")

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("broken")]


@cache
def seen() -> Seen:
    return look(open_clip(CLIPS / f"{NAME}.mp4"), MediaPipePose())


def missed(way: str | None) -> list[str]:
    """Names of the targets that are missed."""
    truth = json.loads((CLIPS / f"{NAME}.truth.json").read_text())
    whole = seen() if way is None else spoilt(seen(), way)
    analysis = judge_seen(whole, find_exercise(truth["exercise"]), Options())
    rows = measure(analysis, truth, truth_arrays(CLIPS / f"{NAME}.truth.npz"))
    asked = [f for f in figures(rows) if f.n and any(part in f.name for part in ASKED)]
    return [f.name for f in asked if not f.met]


@pytest.mark.parametrize("way", [None, "drop"])
def test_a_sound_pipeline_meets_the_targets(way: str | None) -> None:
    assert missed(way) == []


@pytest.mark.parametrize("way", sorted(set(WAYS) - {"drop"}))
def test_a_broken_pipeline_misses_one(way: str) -> None:
    assert missed(way)
