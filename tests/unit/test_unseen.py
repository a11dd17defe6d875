"""Turns that nobody saw are put where the set's others are, and nothing else is made up."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Signal
from tests.synthetic import RepTruth, SetTruth
from vision.measuring.reps import find_reps
from vision.measuring.unseen import LONGEST_S, with_unseen_turns

RATE = 25.0
TRUTH = SetTruth(tuple([RepTruth()] * 8))
TIME_S = np.arange(0.0, TRUTH.duration_s, 1 / RATE)
WHOLE = TRUTH.drive(TIME_S)


def found(drive: np.ndarray):
    return find_reps(Signal("knee", "deg", TIME_S, drive, np.zeros(len(TIME_S)), 0.0), "rising")


def hidden(middle_s: float, seconds: float) -> np.ndarray:
    return np.where(np.abs(TIME_S - middle_s) < seconds / 2, np.nan, WHOLE)


@pytest.mark.parametrize("seconds", [1.2, 1.8])
def test_a_hidden_load_down_end_costs_no_repetition(seconds):
    bounds = TRUTH.bounds()
    drive = hidden((bounds[3][3] + bounds[4][0]) / 2, seconds)
    alone = found(drive)
    assert alone is not None
    mended = found(with_unseen_turns(drive, TIME_S, alone))
    assert mended is not None and len(mended.full) == 8


def test_a_hidden_lift_end_is_put_at_the_lift_end():
    _, turn, lower, _ = TRUTH.bounds()[3]
    drive = hidden((turn + lower) / 2, 1.8)
    alone = found(drive)
    assert alone is not None
    mended = with_unseen_turns(drive, TIME_S, alone)
    gap = np.isnan(drive)
    assert np.max(mended[gap]) == pytest.approx(np.max(WHOLE[gap]), abs=3.0)


def test_a_limb_that_was_held_up_before_a_gap_and_rises_after_it_was_down_in_between():
    quick = SetTruth(tuple(RepTruth(lower_s=0.9) for _ in range(8)))
    time_s = np.arange(0.0, quick.duration_s, 1 / RATE)
    (_, turn, lower, _), (start, *_) = quick.bounds()[3:5]
    hides = (time_s > (turn + lower) / 2) & (time_s < start + 0.5)
    drive = np.where(hides, np.nan, quick.drive(time_s))
    alone = find_reps(Signal("knee", "deg", time_s, drive, np.zeros(len(time_s)), 0.0), "rising")
    assert alone is not None
    assert np.nanmin(with_unseen_turns(drive, time_s, alone)[hides]) == pytest.approx(quick.low, abs=3.0)


def test_a_long_hold_that_was_hidden_stays_a_hold():
    truth = SetTruth(
        tuple(RepTruth(lift_s=0.8, lower_s=0.8, hold_s=3.0 if i == 3 else 0.4) for i in range(8))
    )
    time_s = np.arange(0.0, truth.duration_s, 1 / RATE)
    _, turn, lower, _ = truth.bounds()[3]
    drive = np.where(np.abs(time_s - (turn + lower) / 2) < 0.95, np.nan, truth.drive(time_s))
    alone = find_reps(Signal("knee", "deg", time_s, drive, np.zeros(len(time_s)), 0.0), "rising")
    assert alone is not None
    assert np.array_equal(with_unseen_turns(drive, time_s, alone), drive, equal_nan=True)


def test_where_the_limb_went_on_the_same_way_nothing_is_made_up():
    start, turn, *_ = TRUTH.bounds()[3]
    drive = hidden((start + turn) / 2, 0.5)
    alone = found(drive)
    assert alone is not None
    assert np.array_equal(with_unseen_turns(drive, TIME_S, alone), drive, equal_nan=True)


def test_a_limb_that_had_no_time_to_get_to_the_end_turned_elsewhere():
    """A short repetition, hidden about its turn: that it was short must not be made good."""
    reps = [RepTruth()] * 8
    reps[4] = RepTruth(share=0.6)
    truth = SetTruth(tuple(reps))
    time_s = np.arange(0.0, truth.duration_s, 1 / RATE)
    _, turn, lower, _ = truth.bounds()[4]
    drive = np.where(np.abs(time_s - (turn + lower) / 2) < 0.45, np.nan, truth.drive(time_s))
    alone = find_reps(Signal("knee", "deg", time_s, drive, np.zeros(len(time_s)), 0.0), "rising")
    assert alone is not None
    assert np.array_equal(with_unseen_turns(drive, time_s, alone), drive, equal_nan=True)


def test_a_long_gap_may_hide_more_than_one_turn():
    end = TRUTH.bounds()[3][3]
    drive = hidden(end, LONGEST_S + 0.2)
    alone = found(drive)
    assert alone is not None
    assert np.array_equal(with_unseen_turns(drive, TIME_S, alone), drive, equal_nan=True)
