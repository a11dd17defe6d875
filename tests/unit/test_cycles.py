"""How far a cycle's load went."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from vision.measuring.cycles import Cycle, travels_of

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
