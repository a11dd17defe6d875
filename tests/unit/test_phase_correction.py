"""Learnt corrections of a repetition's moments: bounded, in order, blind to what must not matter."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.exercise import exercise_names
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.measuring.learnt.trees import Trees
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.phase_correction import (
    FOLDER,
    FURTHEST_S,
    FURTHEST_SHARE,
    MOMENTS,
    load_phase_correction,
    moment_features,
    phase_correction_by,
    uncorrected,
)

SET = SetTruth((RepTruth(1.5, 0.4, 2.0, 0.5),) * 8)
DRIVE = drive_signal(SET, noise_deg=0.3)
BOUNDS = (4.0, 5.5, 5.9, 7.9)


def late_by(seconds: float) -> Trees:
    """Trees that call every moment so much too late."""
    return Trees(np.zeros((1, 3), int), np.full((1, 3), np.inf), np.zeros((1, 4)), seconds)


@pytest.mark.parametrize("exercise", exercise_names())
def test_every_machine_has_its_file_and_it_is_small(exercise: str) -> None:
    path = FOLDER / f"bounds-{exercise}.npz"
    assert path.stat().st_size < 20_000
    with np.load(path, allow_pickle=False) as data:
        for name in MOMENTS:
            trees = Trees.of(data, f"{name}_")
            assert trees.feature.max() < len(moment_features(DRIVE.values, DRIVE.time_s, BOUNDS, 0, (1, 1)))
            assert np.isfinite(trees.leaf).all()
            assert abs(trees.base) < FURTHEST_S


def test_what_was_not_learnt_is_left_uncorrected() -> None:
    assert load_phase_correction("a machine of one's own") is uncorrected
    assert uncorrected([BOUNDS], DRIVE.values, DRIVE.time_s) == [BOUNDS]


@pytest.mark.parametrize("late", [0.1, -0.1])
def test_moments_are_moved_by_what_the_trees_say(late: float) -> None:
    corrected = phase_correction_by([late_by(late)] * 4)([BOUNDS], DRIVE.values, DRIVE.time_s)
    np.testing.assert_allclose(corrected[0], np.array(BOUNDS) - late)


def test_a_quick_phase_is_never_turned_inside_out() -> None:
    quick = (4.0, 4.2, 4.3, 4.6)
    correct = phase_correction_by([late_by(x) for x in (-9.0, 9.0, -9.0, 9.0)])
    start, turn, lower_start, end = correct([quick], DRIVE.values, DRIVE.time_s)[0]
    assert start - quick[0] == pytest.approx(FURTHEST_SHARE * 0.2)
    assert start <= turn <= lower_start <= end


@given(st.lists(st.floats(-1, 1), min_size=4, max_size=4), st.floats(0.05, 0.6))
def test_moments_stay_in_order_whatever_the_trees_say(late: list[float], rest: float) -> None:
    bounds = [tuple(m + i * (3.9 + rest) for m in BOUNDS) for i in range(3)]
    corrected = phase_correction_by([late_by(x) for x in late])(bounds, DRIVE.values, DRIVE.time_s)
    assert (np.diff(np.ravel(corrected)) >= 0).all()


@given(st.floats(0.2, 5.0), st.floats(-200, 200), st.floats(-30, 30), st.integers(0, 3))
def test_size_level_and_clock_of_the_drive_tell_nothing(
    factor: float, level: float, shift: float, which: int
) -> None:
    plain = moment_features(DRIVE.values, DRIVE.time_s, BOUNDS, which, (0.5, 0.5))
    moved = tuple(b + shift for b in BOUNDS)
    other = moment_features(factor * DRIVE.values + level, DRIVE.time_s + shift, moved, which, (0.5, 0.5))
    np.testing.assert_allclose(other, plain, atol=0.02)


@pytest.mark.parametrize("exercise", exercise_names())
def test_a_set_of_closed_form_is_not_told_worse_than_a_fifth_of_a_second(exercise: str) -> None:
    """These drives are no landmark's: what was learnt must do them little harm."""
    found = find_reps(DRIVE, "rising", correct=load_phase_correction(exercise))
    assert found is not None
    times = np.array([[r.start_s, r.turn_s, r.lower_start_s, r.end_s] for r in found.reps])
    assert np.abs(times - np.array(SET.bounds())).mean() < 0.2
