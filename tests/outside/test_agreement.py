"""Agreement statistics against published data and an independent library.

Held: ``shared.agreement``, which compares tools and raters; against published data and scikit-learn.

Bland JM, Altman DG, Lancet 1986; i:307: peak expiratory flow (l/min) of 17 subjects by a Wright peak
flow meter and a mini meter, first readings; the readings and the results (bias -2.1, SD 38.8,
limits -79.7 and 75.5 at two standard deviations) are from memory, and they agree with each other.
Kappa: Cohen 1960, against scikit-learn.
"""

from __future__ import annotations

import numpy as np
import pytest

from shared.agreement import cohen_kappa, limits_of_agreement

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


def _table(both_yes: int, only_first: int, only_second: int, both_no: int) -> tuple[list[str], list[str]]:
    first = ["yes"] * (both_yes + only_first) + ["no"] * (only_second + both_no)
    second = ["yes"] * both_yes + ["no"] * only_first + ["yes"] * only_second + ["no"] * both_no
    return first, second


@pytest.mark.parametrize(
    ("cells", "expected"),
    [((20, 5, 10, 15), 0.4), ((25, 0, 0, 25), 1.0), ((0, 25, 25, 0), -1.0), ((9, 21, 21, 49), 0.0)],
)
def test_kappa_of_tables_worked_by_hand(cells, expected):
    assert cohen_kappa(*_table(*cells)) == pytest.approx(expected, abs=1e-12)


def test_kappa_of_one_single_label_is_not_known():
    assert np.isnan(cohen_kappa(["clear"] * 5, ["clear"] * 5))


def test_raters_of_different_things_are_refused():
    with pytest.raises(ValueError):
        cohen_kappa(["flag"], ["flag", "clear"])
    with pytest.raises(ValueError):
        cohen_kappa([], [])


@pytest.mark.parametrize("seed", range(10))
def test_kappa_agrees_with_scikit_learn(seed):
    metrics = pytest.importorskip("sklearn.metrics", reason="scikit-learn is not installed")
    rng = np.random.default_rng(seed)
    first = rng.choice(["flag", "watch", "clear", "cannot-tell"], 60, p=[0.2, 0.1, 0.6, 0.1])
    second = np.where(rng.random(60) < 0.3, rng.permutation(first), first)
    ours = cohen_kappa(first.tolist(), second.tolist())
    assert ours == pytest.approx(metrics.cohen_kappa_score(first, second), abs=1e-12)
