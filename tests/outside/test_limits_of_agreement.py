"""Limits of agreement against published data.

Held: ``app.rules.limits_of_agreement``, which compares what the body alone said with what printed tags said.

Bland JM, Altman DG, Lancet 1986; i:307: peak expiratory flow (l/min) of 17 subjects by a Wright peak
flow meter and a mini meter, first readings; the readings and the results (bias -2.1, SD 38.8,
limits -79.7 and 75.5 at two standard deviations) are from memory, and they agree with each other.
"""

from __future__ import annotations

import numpy as np
import pytest

from app.rules.limits_of_agreement import limits_of_agreement

WRIGHT = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_the_published_limits_of_agreement_come_out():
    found = limits_of_agreement(np.array(WRIGHT), np.array(MINI), spreads=2.0)
    assert found.n == 17
    assert [found.bias, found.sd] == pytest.approx([-2.1, 38.8], abs=0.05)
    assert [found.lower, found.upper] == pytest.approx([-79.7, 75.5], abs=0.1)


def test_nineteen_in_twenty_normal_differences_lie_within_the_limits():
    rng = np.random.default_rng(4)
    first = rng.normal(100, 20, 20_000)
    second = first + rng.normal(3, 5, 20_000)
    found = limits_of_agreement(first, second)
    inside = np.mean((first - second > found.lower) & (first - second < found.upper))
    assert inside == pytest.approx(0.95, abs=0.005)
    assert found.bias == pytest.approx(-3.0, abs=0.15)


def test_pairs_with_an_unknown_value_are_left_out():
    found = limits_of_agreement(np.array([1.0, 2.0, np.nan, 4.0]), np.array([0.0, 2.0, 9.0, 1.0]))
    assert (found.n, found.bias) == (3, pytest.approx(4 / 3))


@pytest.mark.parametrize(("first", "second"), [([1.0], [2.0]), ([1.0, 2.0], [1.0]), ([], [])])
def test_too_few_or_unpaired_values_are_refused(first, second):
    with pytest.raises(ValueError):
        limits_of_agreement(np.array(first), np.array(second))
