"""Published rules and formulas about the load, with the examples that go with them.

Held: our rules and estimates of the load; against the published ones, each named at its test.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from app.rules.estimates import NSCA_PERCENT, brzycki, epley, percent_table
from app.rules.history import SetRecord
from app.rules.load_settings import RULES, Increase, Settings
from app.rules.progress import advise

START = date(2026, 5, 4)


def test_epley_and_brzycki_meet_at_ten_repetitions() -> None:
    """Epley 1985: w (1 + r / 30); Brzycki 1993 (JOPERD 64:88): 36 w / (37 - r). Both from memory."""
    assert epley(100, 10) == pytest.approx(brzycki(100, 10)) == pytest.approx(133.333, abs=1e-3)
    assert epley(50, 1) == brzycki(50, 1) == 50


def test_the_table_of_percent_ends_at_twelve_repetitions() -> None:
    """NSCA, Essentials, from memory: 87 % at 5, 80 % at 8, 75 % at 10, 67 % at 12 repetitions."""
    assert NSCA_PERCENT == {1: 100, 5: 87, 8: 80, 10: 75, 12: 67}
    table = {row[0]: row[1:] for row in percent_table()}
    assert table[12] == pytest.approx((67, 71.4, 69.4), abs=0.05)
    assert table[10] == pytest.approx((75, 75.0, 75.0))
    assert table[1] == (100, 100, 100)


TWO_FOR_TWO = [
    ("goal of 10, twelve in the last set of two sessions", [[10, 12], [11, 12]], "more-load"),
    ("goal of 10, twelve in one session only", [[10, 11], [11, 12]], "hold"),
    ("goal of 10, twelve in the first sets only", [[12, 10], [12, 10]], "hold"),
]


@pytest.mark.parametrize(
    ("sessions", "answer"), [c[1:] for c in TWO_FOR_TWO], ids=[c[0] for c in TWO_FOR_TWO]
)
def test_two_for_two(sessions: list[list[int]], answer: str) -> None:
    """NSCA, Essentials, known second-hand: two more than the goal in the last set, two sessions running."""
    sets = [
        SetRecord(START + timedelta(days=3 * day), "leg-curl", 60.0, "lb", reps)
        for day, session in enumerate(sessions)
        for reps in session
    ]
    settings = Settings(target_reps=(8, 10), rule=RULES["two-for-two"])
    assert advise(sets, settings)[0].answer == answer


@pytest.mark.parametrize(("load", "within"), [(75.0, True), (60.0, True), (45.0, False), (30.0, False)])
def test_a_step_over_a_tenth_is_told(load: float, within: bool) -> None:
    """ACSM position stand 2009 (Med Sci Sports Exerc 41:687), its abstract: 2 to 10 %, no more."""
    assert Increase().at_most_percent == 10.0
    sets = [SetRecord(START + timedelta(days=i), "leg-curl", load, "lb", 15) for i in range(2)]
    (advice,) = advise(sets)
    assert advice.answer == "more-load" and ("a big step" not in advice.evidence) is within
