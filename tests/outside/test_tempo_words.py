"""Slow, moderate and fast against the ACSM position stand of 2009 (Med Sci Sports Exerc 41:687).

Held: our words for tempo; against the ACSM position stand.

Read there: moderate velocity is 1 to 2 s lifting and 1 to 2 s lowering. From memory, as conventions:
fast is under 1 s lifting, intentionally slow is 4 to 5 s and more. Between 2 and 4 s the stand gives
no word that we know of; that we call it slow is common practice, no published source.
"""

from __future__ import annotations

import pytest

from shared.exercise import Motion, exercise_names, find_exercise
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.tempo import MODERATE_S, measure_tempo, speed_word

CLASSES = {
    "fast": (0.3, 0.5, 0.9, 0.99),
    "moderate": (1.0, 1.5, 2.0),
    "slow": (4.0, 5.0, 10.0),
}


@pytest.mark.parametrize(("word", "seconds"), [(w, s) for w, many in CLASSES.items() for s in many])
def test_a_phase_gets_the_word_of_its_class(word, seconds):
    assert speed_word(seconds) == word


def test_between_moderate_and_intentionally_slow_we_say_slow():
    assert {speed_word(s) for s in (2.01, 3.0, 3.99)} == {"slow"}


def test_words_only_get_slower_with_time():
    order = {"fast": 0, "moderate": 1, "slow": 2}
    ranks = [order[speed_word(s / 20)] for s in range(1, 200)]
    assert ranks == sorted(ranks)


# A phase is timed between crossings of 5 % of its peak speed, so the profiles here are a little
# longer than the phases that are measured.
@pytest.mark.parametrize(("phase_s", "word"), [(0.6, "fast"), (1.7, "moderate"), (5.5, "slow")])
def test_a_set_in_one_class_is_described_by_its_word(phase_s, word):
    truth = SetTruth((RepTruth(lift_s=phase_s, lower_s=phase_s),) * 5)
    found = find_reps(drive_signal(truth, 0.2), "rising")
    assert found is not None
    assert measure_tempo(found, Motion()).speed_word == word
    assert ("each way, fast" in measure_tempo(found, Motion()).sentence) == (word == "fast")


@pytest.mark.parametrize("name", exercise_names())
def test_too_fast_is_what_lies_under_moderate(name):
    limit = find_exercise(name).check("too-fast").limit
    assert limit.resolved(False) == (MODERATE_S[0], None)
    assert MODERATE_S == (1.0, 2.0)
