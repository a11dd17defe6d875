"""Angles of the plane with values a reader can check by hand."""

from __future__ import annotations

import numpy as np
import pytest

from vision.common.geometry import from_vertical, included_angle, signed_included_angle


def p(x, y):
    return np.array([[float(x), float(y)]])


@pytest.mark.parametrize(("b", "expected"), [((2, 0), 180), ((1, 1), 90), ((0, 0.0), 0), ((0, 1), 45)])
def test_included_angle(b, expected):
    assert included_angle(p(0, 0), p(1, 0), p(*b))[0] == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(
    ("shank", "expected"),
    [
        ((0, 1), 90),
        ((1, 0), 180),
        ((1, -0.1), 180 + np.degrees(np.arctan(0.1))),
        ((-1, 0.2), np.degrees(np.arctan(0.2))),
    ],
)
def test_a_knee_past_straight_reads_above_180(shank, expected):
    hip, knee = p(0, 0), p(1, 0)
    ankle = knee + p(*shank)
    assert signed_included_angle(hip, knee, ankle, bend=1)[0] == pytest.approx(expected)
    mirrored = [q * np.array([-1, 1]) for q in (hip, knee, ankle)]
    assert signed_included_angle(*mirrored, bend=-1)[0] == pytest.approx(expected)


def test_a_fully_bent_joint_does_not_fold_over():
    hip, knee = p(0, 0), p(1, 0)
    past_fold = knee + p(-1, -0.2)
    assert signed_included_angle(hip, knee, past_fold, bend=1)[0] < 90


@pytest.mark.parametrize(
    ("upper", "facing", "expected"), [((0, -1), 1, 0), ((1, -1), 1, 45), ((1, -1), -1, -45)]
)
def test_pitch_is_positive_toward_the_front(upper, facing, expected):
    assert from_vertical(p(0, 0), p(*upper), facing)[0] == pytest.approx(expected)


def test_an_unknown_point_gives_an_unknown_angle():
    assert np.isnan(included_angle(p(np.nan, 0), p(1, 0), p(2, 0))[0])
