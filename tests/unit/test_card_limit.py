"""A card's limit in degrees: its words, what it bounds, and that 150 is what judges."""

from __future__ import annotations

import numpy as np
import pytest

from app.jobs.worker import own_limits
from app.rules.card_limit import CardLimit, as_for, limit_words, number_in_words, phrases
from app.store.agreement import Agreement, proposed, suggestion
from shared.exercise import exercise_names, find_exercise
from shared.faults import is_own_range
from shared.keypoints import Side
from shared.member import Member, Own, with_member
from shared.own_range import TALK_FIRST, Range
from shared.report import SetReport
from tests.stick_sets import judged, knee_motion
from tests.unit.test_worker import a_job
from vision.judging.options import Options
from vision.telling.cues import headline
from vision.telling.groups import unseen

BENT, LONG = "no more bent than", "no straighter than"
KNEE, SHOWN = CardLimit(left=Range(at_most=150.0)), CardLimit(right=Range(at_most=150.0))


def both(**bounds: float) -> CardLimit:
    return CardLimit(Range(**bounds), Range(**bounds))


@pytest.mark.parametrize(
    ("exercise", "limit", "words"),
    [
        ("leg-extension", KNEE, "Left knee no straighter than 150 degrees"),
        ("leg-curl", both(at_least=100.0, at_most=165.0), f"Knee {BENT} 100 degrees and {LONG} 165 degrees"),
        ("chest-press", both(at_least=80.0), "Elbow no more bent than 80 degrees"),
        ("chest-fly", CardLimit(right=Range(at_most=60.0)), "Right arm no wider than 60 degrees"),
        ("reverse-fly", CardLimit(), ""),
        (
            "leg-extension",
            CardLimit(Range(at_most=150.0), Range(at_most=165.0)),
            f"Left knee {LONG} 150 degrees, right knee {LONG} 165 degrees",
        ),
    ],
)  # fmt: skip
def test_a_limit_reads_as_a_trainer_would_say_it(exercise: str, limit: CardLimit, words: str) -> None:
    assert limit_words(limit, find_exercise(exercise)) == words


@pytest.mark.parametrize("name", exercise_names())
def test_every_machine_takes_a_number_for_the_end_that_can_do_harm(name: str) -> None:
    exercise = find_exercise(name)
    assert ("at_least_deg" in phrases(exercise)) == (exercise.drive_joint is not None)
    bounded = as_for(exercise, CardLimit(left=Range(at_most=60.0))).check("own-range-max")
    assert bounded.limit.at_most == 60.0


@pytest.mark.parametrize(("reached", "verdict"), [(165.0, "flag"), (140.0, "clear")])
@pytest.mark.parametrize("limit", [SHOWN, both(at_most=150.0)], ids=["right", "both"])
def test_a_card_of_a_hundred_and_fifty_is_judged_by_it(
    reached: float, verdict: str, limit: CardLimit
) -> None:
    report = _judged(reached, limit)
    found = [f for f in report.findings if f.check == "own-range-max"]
    assert {(f.verdict, f.limit) for f in found} == {(verdict, 150.0)} and len(found) == report.count
    assert not [f for f in report.findings if f.check == "knee-lockout"]
    if verdict == "flag":
        one = limit is SHOWN
        who, it = ("right knee", "it") if one else ("knees", "they")
        said = f"Stop sooner with your {who}: {it} straightened past your limit of 150 degrees. {TALK_FIRST}"
        assert {f.prompt for f in found} == {said}
        title = "Right knee past its own limit" if one else "Knees past their own limit"
        assert {f.title for f in found} == {title}
        noted = f"This member's own limit: {who}, at most 150 degrees."
        assert noted in report.quality.notes
        assert headline(report) == f"Stop sooner with your {who}. {report.count} of {report.count} reps"


def test_the_other_sides_limit_judges_nothing_and_is_told_to_be_unseen() -> None:
    report = _judged(165.0, KNEE)
    (one,) = [f for f in report.findings if f.check.startswith("own-range")]
    assert (one.check, one.verdict, one.rep) == ("own-range-left", "cannot-tell", None)
    said = (
        "The left knee's own limit: this clip does not show that side by itself, so the limit of 150 degrees "
        "was not checked; film from the left."
    )
    assert said in unseen(report)
    assert [f for f in report.findings if f.check == "knee-lockout"], "the right knee has the usual limit"


@pytest.mark.parametrize(
    ("exercise", "limit", "words"),
    [
        ("leg-curl", both(at_least=100.0), "knees: they bent past your limit of 100"),
        ("chest-press", CardLimit(left=Range(at_least=80.0)), "left elbow: it bent past your limit of 80"),
        ("chest-fly", both(at_most=60.0), "arms: they opened past your limit of 60"),
    ],
)
def test_whoever_went_past_reads_which_way_and_how_far_is_theirs(
    exercise: str, limit: CardLimit, words: str
) -> None:
    member = own_limits(a_job(exercise=exercise, bounds=limit.bounds()))
    assert member is not None
    (spec,) = [s for s in with_member(find_exercise(exercise), member, "left").checks if is_own_range(s.id)]
    assert spec.prompt == f"Stop sooner with your {words} degrees. {TALK_FIRST}"


def test_each_side_is_judged_by_its_own() -> None:
    limit = CardLimit(Range(at_most=150.0), Range(at_most=170.0))
    found = [f for f in _judged(160.0, limit).findings if f.check == "own-range-max"]
    assert {(f.verdict, f.limit) for f in found} == {("clear", 170.0)}


@pytest.mark.parametrize("side", ["left", "right", None])
def test_a_view_that_shows_both_as_one_cannot_tell_what_holds_for_one(side: Side | None) -> None:
    fly = find_exercise("chest-fly")
    own = Own(left=Range(at_most=60), right=Range(at_most=75))
    added = [
        c for c in with_member(fly, Member(exercises={fly.name: own}), side).checks if c not in fly.checks
    ]
    ids = {"left": ["own-range-max", "own-range-right"], "right": ["own-range-max", "own-range-left"]}
    assert [c.id for c in added] == ids.get(side or "", ["own-range-left", "own-range-right"])
    if side:
        assert added[0].limit.at_most == {"left": 60, "right": 75}[side]


@pytest.mark.parametrize(
    ("working", "bounds"),
    [
        (None, {"left": Range(at_most=150)}),
        ("left", {"range": Range(at_most=150)}),
        ("right", {}),
    ],
)
def test_a_limit_of_one_side_is_no_limit_where_the_other_works_alone(
    working: str | None, bounds: dict[str, Range]
) -> None:
    assert KNEE.bounds(working) == bounds
    assert CardLimit().bounds() == {}


def _judged(reached: float, limit: CardLimit) -> SetReport:
    """A stick person's right knee, seen from the right, on a machine with that card."""
    knee = knee_motion() + reached - np.nanmax(knee_motion())
    member = own_limits(a_job(exercise="leg-extension", bounds=limit.bounds()))
    return judged(knee, options=Options(member=member)).report


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
    return a_job(exercise="leg-extension", bounds=SHOWN.bounds())


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
