"""Figures of tempo on durations that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from vision.measuring.reps.tempo import detrended_cv, late_over_early, speed_word, spread


def test_the_end_of_a_set_is_its_last_three_against_its_first_half() -> None:
    assert late_over_early([2.0, 2.0, 2.0, 9.0, 3.0, 3.0, 1.0]) == pytest.approx(1.5)
    assert late_over_early([2.0, 2.0, 2.0, 9.0, 9.0, 9.0]) == pytest.approx(4.5)
    assert late_over_early([2.0] * 5) is None


def test_steady_slowing_is_no_spread() -> None:
    assert detrended_cv(2.0 + 0.3 * np.arange(8)) == pytest.approx(0.0, abs=1e-9)
    assert detrended_cv(np.array([1.0, 3.0] * 4)) > 50.0
    assert np.isnan(detrended_cv(np.array([1.0, 2.0])))


def test_spread_and_trend_are_those_of_a_sample() -> None:
    found = spread([1.0, 2.0, 3.0])
    assert found is not None
    assert (found.mean, found.sd, found.cv_percent, found.trend_per_rep) == pytest.approx(
        (2.0, 1.0, 50.0, 1.0)
    )


@pytest.mark.parametrize(
    ("seconds", "word"), [(0.9, "fast"), (1.0, "moderate"), (2.0, "moderate"), (2.1, "slow")]
)
def test_one_to_two_seconds_are_moderate(seconds: float, word: str) -> None:
    assert speed_word(seconds) == word
