"""The queue that the scale page is planned with, against results of queueing theory.

Sources: A. K. Erlang 1917 (the delay formula of M/M/c, "Erlang C"); Pollaczek 1930 and Khinchine 1932
(mean wait of M/G/1). Both as printed in textbooks of queueing theory; formulas from memory.
"""

from __future__ import annotations

from math import factorial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.speed.queueing import waits

CLIPS = 400_000


def erlang_c_wait(rate: float, mean_s: float, workers: int) -> float:
    load = rate * mean_s
    top = load**workers / factorial(workers) * workers / (workers - load)
    delayed = top / (sum(load**k / factorial(k) for k in range(workers)) + top)
    return delayed * mean_s / (workers - load)


@pytest.mark.parametrize(("workers", "busy"), [(1, 0.6), (4, 0.8), (16, 0.9)])
def test_erlang_c(workers: int, busy: float) -> None:
    rng = np.random.default_rng(workers)
    mean_s = 40.0
    rate = busy * workers / mean_s
    arrivals = np.cumsum(rng.exponential(1 / rate, CLIPS))
    waited = waits(arrivals, rng.exponential(mean_s, CLIPS), workers)
    assert waited.mean() == pytest.approx(erlang_c_wait(rate, mean_s, workers), rel=0.06)


def test_pollaczek_khinchine() -> None:
    rng = np.random.default_rng(3)
    work = rng.uniform(20.0, 60.0, CLIPS)
    rate = 0.7 / 40.0
    waited = waits(np.cumsum(rng.exponential(1 / rate, CLIPS)), work, 1)
    second_moment = 40.0**2 + 40.0**2 / 12
    assert waited.mean() == pytest.approx(rate * second_moment / (2 * (1 - 0.7)), rel=0.05)


@given(st.lists(st.tuples(st.floats(0, 50), st.floats(0.1, 20)), min_size=1, max_size=40), st.integers(1, 5))
def test_one_more_worker_makes_nobody_wait_longer(clips: list[tuple[float, float]], workers: int) -> None:
    arrivals = np.sort([a for a, _ in clips])
    work = np.array([w for _, w in clips])
    few, many = waits(arrivals, work, workers), waits(arrivals, work, workers + 1)
    assert (many <= few + 1e-9).all()
    assert (few >= 0).all()
