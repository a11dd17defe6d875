"""A pipeline that was broken on purpose misses the bench's targets on a sample clip; a sound one meets them.

Every fifth picture without its person is no break: gaps of that length are bridged.
"""

from __future__ import annotations

import pytest

from sample_clips.measure import measure
from sample_clips.rendered import truth_arrays, truth_of
from shared.exercise import find_exercise
from tests.bench.broken import WAYS, spoilt
from tests.bench.table import figures
from tests.samples import CLIPS, clip_of, looked
from vision.judging.options import Options
from vision.pipeline import judge_seen

NAME = "leg-extension-clean"
#: Parts of the names of figures that one clip of a leg machine can answer for.
ASKED = ("repetition count", " time, ", " duration, ", "knee at both ends, within", "false flags", "fit")


def missed(way: str | None) -> list[str]:
    """Names of the targets that are missed."""
    truth, seen = truth_of(clip_of(NAME)), looked(NAME)[0]
    whole = seen if way is None else spoilt(seen, way)
    analysis = judge_seen(whole, find_exercise(truth["exercise"]), Options())
    rows = measure(analysis, truth, truth_arrays(CLIPS / f"{NAME}.truth.npz"))
    asked = [f for f in figures(rows) if f.n and any(part in f.name for part in ASKED)]
    return [f.name for f in asked if f.met is False]


@pytest.mark.parametrize("way", [None, "drop"])
def test_a_sound_pipeline_meets_the_targets(way: str | None) -> None:
    assert missed(way) == []


@pytest.mark.parametrize("way", sorted(set(WAYS) - {"drop"}))
def test_a_broken_pipeline_misses_one(way: str) -> None:
    assert missed(way)
