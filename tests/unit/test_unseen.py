"""Turns that nobody saw are put where the set's others are, and nothing else is made up."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pytest

from shared.domain import Floats, RepSet, Signal
from tests.synthetic import RepTruth, SetTruth
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.unseen import LONGEST_S, with_unseen_turns

RATE = 25.0
TRUTH = SetTruth((RepTruth(),) * 8)


class Mended(NamedTuple):
    """A set's clock (T,) s and drive (T,): whole, with a gap, and with what was made of the gap."""

    time_s: Floats
    whole: Floats
    hidden: Floats
    drive: Floats

    @property
    def gap(self) -> np.ndarray:
        return np.isnan(self.hidden)

    @property
    def untouched(self) -> bool:
        return np.array_equal(self.drive, self.hidden, equal_nan=True)


def found(time_s: Floats, drive: Floats) -> RepSet:
    reps = find_reps(Signal("knee", "deg", time_s, drive, np.zeros(len(time_s)), 0.0), "rising")
    assert reps is not None
    return reps


def mended(truth: SetTruth, start_s: float, end_s: float) -> Mended:
    """The set with all hidden between two moments."""
    time_s = np.arange(0.0, truth.duration_s, 1 / RATE)
    whole = truth.drive(time_s)
    hidden = np.where((time_s > start_s) & (time_s < end_s), np.nan, whole)
    return Mended(time_s, whole, hidden, with_unseen_turns(hidden, time_s, found(time_s, hidden)))


def about(truth: SetTruth, middle_s: float, seconds: float) -> Mended:
    return mended(truth, middle_s - seconds / 2, middle_s + seconds / 2)


def lift_end(truth: SetTruth, rep: int) -> float:
    _, turn, lower, _ = truth.bounds()[rep]
    return (turn + lower) / 2


@pytest.mark.parametrize("seconds", [1.2, 1.8])
def test_a_hidden_load_down_end_costs_no_repetition(seconds: float) -> None:
    bounds = TRUTH.bounds()
    one = about(TRUTH, (bounds[3][3] + bounds[4][0]) / 2, seconds)
    assert len(found(one.time_s, one.drive).full) == 8


def test_a_hidden_lift_end_is_put_at_the_lift_end() -> None:
    one = about(TRUTH, lift_end(TRUTH, 3), 1.8)
    assert np.max(one.drive[one.gap]) == pytest.approx(np.max(one.whole[one.gap]), abs=3.0)


def test_a_limb_that_was_held_up_before_a_gap_and_rises_after_it_was_down_in_between() -> None:
    quick = SetTruth((RepTruth(lower_s=0.9),) * 8)
    one = mended(quick, lift_end(quick, 3), quick.bounds()[4][0] + 0.5)
    assert np.min(one.drive[one.gap]) == pytest.approx(quick.low, abs=3.0)


def test_a_long_hold_that_was_hidden_stays_a_hold() -> None:
    holds_s = [0.4, 0.4, 0.4, 3.0, 0.4, 0.4, 0.4, 0.4]
    held = SetTruth(tuple(RepTruth(lift_s=0.8, lower_s=0.8, hold_s=hold_s) for hold_s in holds_s))
    assert about(held, lift_end(held, 3), 1.9).untouched


def test_where_the_limb_went_on_the_same_way_nothing_is_made_up() -> None:
    start, turn, *_ = TRUTH.bounds()[3]
    assert about(TRUTH, (start + turn) / 2, 0.5).untouched


def test_a_limb_that_had_no_time_to_get_to_the_end_turned_elsewhere() -> None:
    """A short repetition, hidden about its turn: that it was short must not be made good."""
    short = SetTruth((RepTruth(),) * 4 + (RepTruth(share=0.6),) + (RepTruth(),) * 3)
    assert about(short, lift_end(short, 4), 0.9).untouched


def test_a_long_gap_may_hide_more_than_one_turn() -> None:
    assert about(TRUTH, TRUTH.bounds()[3][3], LONGEST_S + 0.2).untouched
