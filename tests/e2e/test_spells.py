"""A spell in which the landmark model reads something else costs what hangs on it, and is never flagged.

The spoilt looks are the recorded ones of sample clips. Nothing here was seen on a real clip.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sample_clips.rendered import truth_of
from shared.domain import Landmarks
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from tests.samples import clip_of, looked
from vision.judging.options import Options
from vision.pipeline import judge_twice

#: Start and length of each spell, s, by what is read meanwhile.
SPELLS = {
    "flickers": [(30.6, 0.9), (35.7, 1.4)],
    "elsewhere": [(26.1, 0.9), (36.6, 0.9)],
    "lost": [(29.6, 1.6), (40.5, 0.6)],
}


def _spoilt(look: Landmarks, kind: str, seed: int) -> Landmarks:
    """Everything of one person read wrongly in the spells of a kind."""
    return _with_spells(look, kind, SPELLS[kind], seed)


def _with_spells(look: Landmarks, kind: str, spells: list[tuple[float, float]], seed: int = 1) -> Landmarks:
    rng = np.random.default_rng(seed)
    image, world = look.image_px.copy(), look.world_m.copy()
    ends = (INDEX["left_shoulder"], INDEX["left_hip"])
    trunk = np.nanmedian(np.linalg.norm(np.subtract(*(image[:, 0, k, :2] for k in ends)), axis=-1))
    for start_s, long_s in spells:
        rows = np.flatnonzero((look.time_s >= start_s) & (look.time_s < start_s + long_s))
        if kind == "flickers":
            image[rows, ..., :2] += rng.normal(0, 0.25 * trunk, image[rows, ..., :2].shape)
            world[rows] += rng.normal(0, 0.12, world[rows].shape)
        elif kind == "elsewhere":
            image[rows, ..., 0] += 0.8 * trunk
        else:
            image[rows], world[rows] = np.nan, np.nan
    return replace(look, image_px=image, world_m=world)


@pytest.mark.parametrize("kind", SPELLS)
@pytest.mark.parametrize("name", ["leg-curl-clean", "chest-press-clean", "shoulder-press-clean"])
def test_a_spell_of_wrong_looks_brings_no_flag_and_costs_one_repetition_at_most(name: str, kind: str) -> None:
    truth, (seen, again) = truth_of(clip_of(name)), looked(name)
    exercise = find_exercise(truth["exercise"])
    found = judge_twice(
        replace(seen, dense=None if seen.dense is None else _spoilt(seen.dense, kind, 1)),
        exercise, options=Options(cleared=True), again=lambda: _spoilt(again, kind, 2),
    ).report  # fmt: skip
    assert found.count in (truth["count"], truth["count"] - 1)
    assert {(f.check, f.rep) for f in found.flags()} <= {(f["check"], f["rep"]) for f in truth["faults"]}


@pytest.mark.parametrize("name", ["leg-extension-clean", "lat-pulldown-clean", "reverse-fly-clean"])
def test_a_load_down_end_that_nobody_saw_costs_no_repetition(name: str) -> None:
    truth, (seen, again) = truth_of(clip_of(name)), looked(name)
    ends = zip(truth["reps"][2:-1:4], truth["reps"][3::4], strict=False)
    spells = [((one["end_s"] + following["start_s"]) / 2 - 0.75, 1.5) for one, following in ends]
    assert len(spells) >= 2 and seen.dense is not None
    found = judge_twice(
        replace(seen, dense=_with_spells(seen.dense, "lost", spells)),
        find_exercise(truth["exercise"]), options=Options(cleared=True),
        again=lambda: _with_spells(again, "lost", spells),
    ).report  # fmt: skip
    assert found.count == truth["count"]
    assert not found.flags()


@pytest.mark.parametrize("until_s", [24.0, 42.0])
def test_a_first_look_that_lost_the_person_is_made_good_by_the_second(until_s: float) -> None:
    """For a while the model took something else for the person; in the mirrored pictures it did not."""
    name = "chest-press-clean"
    truth, (seen, again) = truth_of(clip_of(name)), looked(name)
    assert seen.dense is not None
    image = seen.dense.image_px.copy()
    elsewhere = (seen.dense.time_s > 12.0) & (seen.dense.time_s < until_s)
    image[elsewhere, ..., :2] = image[elsewhere, ..., :2] * 0.5
    lost = replace(seen, dense=replace(seen.dense, image_px=image))
    found = judge_twice(
        lost, find_exercise(truth["exercise"]), Options(cleared=True), again=lambda: again
    ).report
    assert found.quality.usable and found.count == truth["count"]
    assert not found.flags() and not found.quality.notes
