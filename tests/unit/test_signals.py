"""A joint's angle in a side view: past straight, and where a limb folds past the line of sight."""

from __future__ import annotations

import numpy as np

from vision.measuring.signals.angles import _without_leaps


def test_where_a_limb_folds_past_the_line_of_sight_its_angle_is_not_known():
    """The signed angle leaps from 0 to 360 there, which would pass for a turn."""
    folding = np.array([90.0, 75, 60, 45, 30, 15, 0, 345, 300, 250, 220, 205, 195, 190, 185, 182, 180])
    told = _without_leaps(folding)
    assert np.isnan(told[3:11]).all()
    assert np.array_equal(np.delete(told, range(3, 11)), np.delete(folding, range(3, 11)))


def test_the_quickest_limb_does_not_leap():
    drops = 170.0 - 110.0 * np.clip(np.arange(30) / 7.5, 0.0, 1.0)
    assert np.array_equal(_without_leaps(drops), drops), "110 degrees in a quarter of a second"
