"""What a strength trainer takes for granted; common practice, no published source.

Held: limits and targets of the shipped exercises; against a strength trainer's rules.

Limbs stop short of full extension. The load does not rest between the repetitions of a set. The
trunk stays still. A set is 12 to 15 repetitions. The lower takes about as long as the lift.
"""

from __future__ import annotations

import pytest

from shared.exercise import Exercise, exercise_names, find_exercise

EXERCISES = [find_exercise(name) for name in exercise_names()]
by_name = pytest.mark.parametrize("exercise", EXERCISES, ids=lambda e: e.name)


def _checks(exercise: Exercise, ending: str) -> list:
    return [c for c in exercise.checks if c.id.endswith(ending)]


@by_name
def test_limbs_stop_short_of_straight(exercise):
    for spec in _checks(exercise, "lockout"):
        at_least, at_most = spec.limit.resolved(False)
        assert at_least is None
        assert 160.0 <= at_most < 180.0
        assert spec.params["which"] == "max"


def test_every_press_pull_and_leg_machine_asks_about_the_stop():
    with_stop = {e.name for e in EXERCISES if _checks(e, "lockout")}
    assert with_stop >= {"leg-extension", "leg-curl", "chest-press", "lat-pulldown", "shoulder-press"}


@by_name
def test_a_set_is_twelve_to_fifteen_repetitions(exercise):
    assert exercise.target_reps == (12, 15)
    assert exercise.check("rep-target").limit.resolved(False) == (12, 15)


@by_name
def test_the_trunk_stays_still_within_ten_degrees_and_less_where_a_pad_stops_it(exercise):
    trunk = {c.id: c.limit.resolved(False) for c in exercise.checks if c.signal == "trunk"}
    backward = 7.0 if exercise.name == "shoulder-press" else 10.0
    if not exercise.name.endswith("fly"):  # a fly's pad holds the back or the chest
        assert trunk["lean-back"] == (None, backward)
    assert trunk.get("chest-drop", (None, 10.0)) == (None, 10.0)


@by_name
def test_a_lower_of_the_same_time_as_the_lift_is_no_drop(exercise):
    at_least, _ = exercise.check("dropped-load").limit.resolved(False)
    assert 0.5 <= at_least < 1.0


@by_name
def test_a_limit_of_the_trade_says_that_it_has_no_published_source(exercise):
    for spec in exercise.checks:
        published = spec.source.kind == "published"
        assert ("no published source" in spec.source.cite) == (not published), spec.id
