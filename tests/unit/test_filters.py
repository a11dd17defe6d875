"""Low-passing without lag, and runs of what is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import sosfiltfilt

from vision.measuring.track.filters import _one_pass, butterworth, runs, within

RATE_HZ = 30.0


def test_runs_are_told_by_where_they_start_and_stop() -> None:
    assert runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert runs(np.zeros(3, dtype=bool)) == []


@pytest.mark.parametrize("shape", [(12,), (13,), (700, 3)])
def test_both_passes_give_to_the_bit_what_the_published_filter_gives(shape: tuple[int, ...]) -> None:
    values = 500.0 + 200.0 * np.random.default_rng(1).normal(size=shape)
    sections, _ = _one_pass(RATE_HZ, 3.0)
    pad = min(len(values) - 1, 30)
    for given in (values, values[::-1]):
        expected = sosfiltfilt(sections, given.copy(), axis=0, padlen=pad)
        assert np.array_equal(butterworth(given, RATE_HZ, 3.0), expected)


def test_the_samples_of_a_span_hold_both_its_ends() -> None:
    assert within(np.arange(5) / 10, 0.1, 0.3) == slice(1, 4)
    assert within(np.arange(5) / 10, 0.11, 0.12) == slice(2, 2)
