"""One phase, from the first to the last crossing of 5 % of its own peak speed."""

from __future__ import annotations

import numpy as np
import pytest

from tests.synthetic import RATE_HZ
from vision.measuring.reps.phases import phase_bounds


@pytest.mark.parametrize("seconds", [1.0, 2.0, 4.0])
def test_a_phase_is_bounded_where_its_speed_is_a_twentieth_of_its_peak(seconds: float) -> None:
    """A rise by a raised cosine has the speed of a sine: it passes 5 % at asin(0.05) of half a turn."""
    time_s = np.arange(0.0, 6.0 + seconds, 1.0 / RATE_HZ)
    share = np.clip((time_s - 3.0) / seconds, 0.0, 1.0)
    load = 30.0 * (1.0 - np.cos(np.pi * share))
    low, high = round(2.9 * RATE_HZ), round((3.1 + seconds) * RATE_HZ)
    first, last = phase_bounds(load, time_s, low, high)
    within = np.arcsin(0.05) / np.pi * seconds
    assert first == pytest.approx(3.0 + within, abs=0.015 * seconds)
    assert last == pytest.approx(3.0 + seconds - within, abs=0.015 * seconds)


def test_a_phase_begins_after_a_movement_that_came_to_nothing() -> None:
    """Up by more than half of the lift, down again, a rest, and only then the lift itself."""
    time_s = np.arange(0.0, 9.0, 1.0 / RATE_HZ)
    tried = 18.0 * (1.0 - np.cos(2 * np.pi * np.clip((time_s - 1.0) / 2.0, 0.0, 1.0)))
    lift = 30.0 * (1.0 - np.cos(np.pi * np.clip((time_s - 5.0) / 2.0, 0.0, 1.0)))
    first, last = phase_bounds(tried + lift, time_s, low=round(0.9 * RATE_HZ), high=round(7.1 * RATE_HZ))
    assert first == pytest.approx(5.0, abs=0.1)
    assert last == pytest.approx(7.0, abs=0.1)
