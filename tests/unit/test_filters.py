"""What is taken for an outlier, and what for a movement."""

from __future__ import annotations

import numpy as np
import pytest

from vision.measuring.filters import hampel, runs

RATE_HZ = 30.0


@pytest.mark.parametrize("off", [40.0, -40.0])
def test_a_lone_outlier_becomes_unknown_and_a_movement_stays(off: float) -> None:
    moving = 100.0 + 30.0 * np.sin(2 * np.pi * np.arange(150) / 90.0)
    jumped = moving + np.where(np.arange(150) == 70, off, 0.0)
    assert np.array_equal(hampel(moving, RATE_HZ), moving)
    assert np.flatnonzero(np.isnan(hampel(jumped, RATE_HZ))).tolist() == [70]


def test_a_lasting_step_is_no_outlier() -> None:
    step = np.where(np.arange(150) < 70, 100.0, 140.0)
    assert not np.isnan(hampel(step, RATE_HZ)).any()


def test_runs_are_told_by_where_they_start_and_stop() -> None:
    assert runs(np.array([True, True, False, True])) == [(0, 2), (3, 4)]
    assert runs(np.zeros(3, dtype=bool)) == []
