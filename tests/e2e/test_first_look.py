"""The first words of every sample clip, from its survey alone, against its exact truth."""

from __future__ import annotations

import pytest

from sample_clips.rendered import truth_of
from shared.drive import FULL_SHARE
from shared.exercise import find_exercise
from tests.samples import NAMES, clip_of, looked
from vision.judging.options import Options
from vision.pipeline import first_look

#: A repetition that truly is so little longer than a partial one may be told as one by the survey.
NEAR = 0.05


@pytest.mark.parametrize("name", NAMES)
def test_the_survey_alone_counts_the_set_and_times_it_to_half_a_second(name: str) -> None:
    seen, _ = looked(name)
    truth = truth_of(clip_of(name))
    full = [rep for rep in truth["reps"] if not rep["partial"]]
    said = first_look(seen, find_exercise(truth["exercise"]), Options(cleared=True))
    hardly_full = [rep for rep in full if rep["measures"]["range_share"] < FULL_SHARE + NEAR]
    assert said.count in (len(full), len(full) - len(hardly_full))
    for told, phase in ((said.lift_s, "lift_s"), (said.lower_s, "lower_s")):
        assert told == pytest.approx(sum(rep[phase] for rep in full) / len(full), abs=0.5)
