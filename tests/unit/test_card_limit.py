"""A card's limit in degrees: its words, what it bounds, and that 150 is what judges."""

from __future__ import annotations

import numpy as np
import pytest

from app.jobs.worker import own_limits
from app.rules.card_limit import CardLimit, as_for, limit_words, number_in_words, phrases
from app.store.agreement import Agreement, proposed, suggestion
from shared.exercise import exercise_names, find_exercise
from shared.member import Range
from tests.stick_sets import judged, knee_motion
from tests.unit.test_worker import a_job
from vision.judging.options import Options

BENT, LONG = "no more bent than", "no straighter than"
KNEE = CardLimit(at_most_deg=150.0, side="left")


@pytest.mark.parametrize(
    ("exercise", "limit", "words"),
    [
        ("leg-extension", KNEE, "Left knee no straighter than 150 degrees"),
        ("leg-curl", CardLimit(100.0, 165.0), f"Knee {BENT} 100 degrees and {LONG} 165 degrees"),
        ("chest-press", CardLimit(at_least_deg=80.0), "Elbow no more bent than 80 degrees"),
        ("chest-fly", CardLimit(at_most_deg=60.0, side="right"), "Right arm no wider than 60 degrees"),
        ("reverse-fly", CardLimit(side="right"), ""),
    ],
)  # fmt: skip
def test_a_limit_reads_as_a_trainer_would_say_it(exercise: str, limit: CardLimit, words: str) -> None:
    assert limit_words(limit, find_exercise(exercise)) == words


@pytest.mark.parametrize("name", exercise_names())
def test_every_machine_takes_a_number_for_the_end_that_can_do_harm(name: str) -> None:
    exercise = find_exercise(name)
    assert ("at_least_deg" in phrases(exercise)) == (exercise.drive_joint is not None)
    bounded = as_for(exercise, CardLimit(at_most_deg=60.0)).check("own-range-max")
    assert bounded.limit.at_most == 60.0


@pytest.mark.parametrize(("reached", "verdict"), [(165.0, "flag"), (140.0, "clear")])
def test_a_card_of_a_hundred_and_fifty_is_judged_by_it(reached: float, verdict: str) -> None:
    knee = knee_motion() + reached - np.nanmax(knee_motion())
    member = own_limits(a_job(exercise="leg-extension", range=KNEE.range()))
    report = judged(knee, options=Options(member=member)).report
    found = [f for f in report.findings if f.check == "own-range-max"]
    assert {(f.verdict, f.limit) for f in found} == {(verdict, 150.0)} and len(found) == report.count
    assert not [f for f in report.findings if f.check == "knee-lockout"]


@pytest.mark.parametrize(
    ("working", "bounds"), [(None, Range(at_most=150)), ("left", Range(at_most=150)), ("right", None)]
)
def test_a_limit_of_one_side_is_no_limit_where_the_other_works_alone(
    working: str | None, bounds: Range | None
) -> None:
    assert KNEE.range(working) == bounds
    assert CardLimit(side="left").range() is None


def test_no_answer_of_ours_widens_what_the_card_bounds() -> None:
    exercise = find_exercise("leg-extension")
    report = judged(knee_motion() + 25.0, options=Options(member=own_limits(_bounded()))).report
    flags = tuple(f for f in report.findings if f.check == "own-range-max" and f.verdict == "flag")
    spec = as_for(exercise, KNEE).check("own-range-max")
    line = Agreement(exercise.name, spec.id, 0, 0, dismissed=len(flags), seen=flags)
    assert line.doubtful and suggestion(line, spec) == "" and proposed(line, spec) is None
    free = as_for(exercise, CardLimit())
    assert free.checks == exercise.checks and free.check("knee-lockout").limit.at_most == 172.0


def _bounded() -> object:
    return a_job(exercise="leg-extension", range=KNEE.range())


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("left knee no further than 150 degrees", True),
        ("no wider than 60°", True),
        ("below 90 deg", True),
        ("ask again after 3 weeks", False),
        ("", False),
    ],
)
def test_degrees_in_words_are_noticed(text: str, found: bool) -> None:
    assert number_in_words(text) is found
