"""Repetitions whose way only looks short, where the definition says that something else may shorten it."""

from __future__ import annotations

import numpy as np
import pytest

from shared.exercise import exercise_names, find_exercise
from tests.check_sets import context, found, set_of
from tests.stick_sets import judge_landmarks
from tests.synthetic import RepTruth, SetTruth
from tests.unit.test_fold import angles, flying
from vision.measuring.reps.find_set import with_doubtful

#: The fourth looks two thirds as long as the others, the sixth under a half, the last as the fourth.
SHARES = (1.0, 1.0, 1.0, 0.66, 1.0, 0.45, 1.0, 1.0, 0.66)
TRUTH = SetTruth(tuple(RepTruth(rest_s=0.5, share=share) for share in SHARES))
ASKED = [name for name in exercise_names() if find_exercise(name).drive.looks_short is not None]


@pytest.mark.parametrize(("name", "partial"), [(ASKED[0], [6, 9]), ("leg-extension", [4, 6, 9])])
def test_between_two_full_ones_it_is_counted_where_it_may_have_gone_all_the_way(
    name: str, partial: list[int]
) -> None:
    exercise, _, reps = set_of(name, TRUTH)
    counted = with_doubtful(reps, exercise.drive)
    assert [rep.number for rep in counted.reps if rep.partial] == partial


@pytest.mark.parametrize(("short_deg", "count"), [(56.0, 7), (36.0, 6)])
def test_a_clip_s_count_holds_it(short_deg: float, count: int) -> None:
    whole, short = angles(86.0, reps=3), angles(short_deg, reps=1)
    report = judge_landmarks(flying(np.concatenate([whole, short, whole])), "reverse-fly").report
    assert report.count == count
    asked = {f.rep: f.verdict for f in report.findings if f.check == "short-range"}
    assert asked[4] == ("watch" if count == 7 else "flag")


@pytest.mark.parametrize(("name", "verdict"), [(ASKED[0], "watch"), ("leg-extension", "flag")])
def test_how_far_it_went_is_asked_and_not_flagged(name: str, verdict: str) -> None:
    told = {
        f.rep: f
        for f in found(context(name, truth=TRUTH, view="front" if name in ASKED else "side"), "short-range")
    }
    assert told[4].verdict == verdict and told[6].verdict == "flag" and told[2].verdict == "clear"
    looks_short = find_exercise(name).drive.looks_short
    assert told[4].reason == (looks_short.why if looks_short else None)


@pytest.mark.parametrize(("name", "verdict"), [(ASKED[0], "watch"), ("leg-extension", "flag")])
def test_a_range_that_may_not_have_faded_is_asked(name: str, verdict: str) -> None:
    faded = SetTruth(tuple(RepTruth(rest_s=0.5, share=share) for share in (1.0,) * 7 + (0.76,) * 3))
    (told,) = found(context(name, truth=faded, view="front" if name in ASKED else "side"), "late-fade")
    assert told.verdict == verdict
