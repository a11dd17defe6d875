"""A lockout is weighed by the angle and by the set's other repetitions."""

from __future__ import annotations

import pytest

from vision.judging.checks.ends import _limb
from vision.judging.evidence import LimbEnd, Measurement
from vision.judging.lockout import STRAIGHTER, WATCH_FROM, lockout_probability, why_below_the_limit


def probabilities(values, half=6.0, limit=172.0):
    found = [
        Measurement(rep=i, value=v, uncertainty=half, unit="deg", time_s=1.0) for i, v in enumerate(values)
    ]
    return [lockout_probability(_limb(m, found, "elbow"), m.value - limit, half) for m in found]


def test_an_end_far_straighter_than_the_others_is_likely_locked_though_the_angle_says_no():
    weighed = probabilities([158, 157, 159, 171, 158, 157])
    assert weighed[3] > 0.5
    assert max(weighed[:3] + weighed[4:]) < 0.1


def test_a_set_locked_out_throughout_is_flagged_by_the_angle_alone():
    assert min(probabilities([180] * 6)) > 0.9


def test_where_the_angle_is_less_sure_a_set_locked_out_throughout_is_watched():
    assert min(probabilities([175] * 6, half=13.0)) > WATCH_FROM


def test_a_good_set_whose_elbows_are_all_told_a_little_too_straight_is_left_alone():
    assert max(probabilities([170, 171, 171.5, 170, 171], half=13.0)) < WATCH_FROM


def test_a_step_up_that_the_landmarks_show_half_of_is_watched_below_the_limit():
    assert probabilities([159, 160, 159, 167, 160])[3] > WATCH_FROM


def test_a_set_of_good_ends_near_the_limit_stays_clear():
    assert max(probabilities([163, 165, 164, 166, 163])) < 0.5


def test_without_others_the_angle_alone_decides():
    assert probabilities([172.0])[0] == pytest.approx(0.5)


def test_straighter_is_never_less_likely():
    weighed = [probabilities([158, 158, 158, 158, v])[-1] for v in range(150, 190)]
    assert weighed == sorted(weighed)


def test_where_half_of_a_set_is_locked_out_each_of_them_stands_out():
    weighed = probabilities([159, 168, 160, 168, 168, 159], half=13.0)
    assert min(weighed[1], weighed[3], weighed[4]) > 0.5
    assert max(weighed[0], weighed[2], weighed[5]) < WATCH_FROM


@pytest.mark.parametrize(
    ("change", "said"),
    [(8.4, STRAIGHTER.format(degrees=8)), (0.6, ""), (None, "")],
)
def test_at_an_angle_within_the_limit_the_set_is_what_speaks_of_a_lockout(change: float | None, said: str):
    assert why_below_the_limit(LimbEnd(joint="elbow", change=change)) == said
    assert why_below_the_limit(LimbEnd(joint="knee", change=change)) == ""


@pytest.mark.parametrize("half", [6.0, 10.0, 20.0])
def test_beyond_the_limit_nothing_is_called_clear(half: float):
    for values in ([174] * 6, [179, 179, 179, 179, 179, 175], [182, 182, 182, 182, 182, 177]):
        assert min(probabilities(values, half=half)) >= WATCH_FROM
