"""How far a cycle's load went."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from vision.measuring.reps.cycles import Cycle, travels_of, way_of

END = st.floats(0.0, 40.0)


@given(END, END)
def test_a_repetition_that_stops_early_on_its_way_down_is_no_shorter_than_one_that_began_high(
    low: float, next_low: float
) -> None:
    up, down = Cycle(0, 1, 2, low, 100.0, next_low), Cycle(0, 1, 2, next_low, 100.0, low)
    assert list(travels_of([up, down], floor=-50.0)) == [100.0 - min(low, next_low)] * 2


def test_whoever_takes_the_handle_from_far_away_goes_no_further_than_the_load() -> None:
    reaching = Cycle(0, 1, 2, -60.0, 100.0, 20.0)
    assert list(travels_of([reaching], floor=15.0)) == [85.0]


def test_the_way_of_a_limb_is_the_middle_one_of_the_repetitions() -> None:
    """Three rise from 0 to 60; the limb goes with the square of the load, in one of them too far."""
    load = np.tile(np.concatenate([np.linspace(0.0, 60.0, 61), np.linspace(60.0, 0.0, 61)]), 3)
    place = np.stack([load**2, 0.0 * load], axis=-1)
    place[244:] *= 1.5
    cycles = [Cycle(i, i + 60, i + 121, 0.0, 60.0, 0.0) for i in (0, 122, 244)]
    way = way_of(cycles, load, place)
    assert way.between(0.0, 60.0) == pytest.approx(3600.0, rel=0.05)
    assert way.between(0.0, 30.0) == pytest.approx(900.0, rel=0.1)


def test_a_cycle_that_stays_elsewhere_for_long_does_not_move_the_way() -> None:
    """Who gets out leaves the arm straight for as long as the three repetitions took."""
    up, down = np.linspace(0.0, 60.0, 61), np.linspace(60.0, 0.0, 61)
    load = np.concatenate([up, down, up, down, up, down, up, np.full(400, 60.0), down])
    place = np.stack([load, 0.0 * load], axis=-1)
    place[366 + 61 :, 1] = 500.0
    cycles = [Cycle(i, i + 60, i + 121, 0.0, 60.0, 0.0) for i in (0, 122, 244)]
    cycles.append(Cycle(366, 366 + 60, len(load) - 1, 0.0, 60.0, 0.0))
    assert way_of(cycles, load, place).between(0.0, 60.0) == pytest.approx(60.0, rel=0.05)
