"""Two clips of one set: aligned by motion, or left out with the reason; each check from the surer view."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.keypoints import Side
from shared.member import Member, Own, with_member
from shared.own_range import Range
from shared.report import FindingPart
from tests.stick_sets import RATE, judged
from tests.synthetic import RepTruth, SetTruth
from vision.judging.evidence import VIEW
from vision.pair import _better, align, in_first_times, join, match_reps
from vision.telling.analysis import Analysis
from vision.telling.paths import timed

#: Repetitions of one set are never quite alike; these tell one place of the set from another.
SECONDS = (1.5, 1.7, 1.6, 2.0, 1.8, 2.3, 2.0, 2.6)


def a_set(lift_s: tuple[float, ...] = SECONDS, before_s: float = 2.0) -> np.ndarray:
    truth = SetTruth(tuple(RepTruth(lift_s=s) for s in lift_s), low=95.0, before_s=before_s)
    return truth.drive(np.arange(0.0, truth.duration_s, 1 / RATE))


def other(knee: np.ndarray, name: str = "front.mov") -> Analysis:
    return named(judged(knee), name)


def named(analysis: Analysis, name: str) -> Analysis:
    part = analysis.report.clip.model_copy(update={"file": name})
    report = analysis.report.model_copy(update={"clip": part})
    return replace(analysis, clip=replace(analysis.clip, file=name), report=report)


@pytest.fixture(scope="module")
def first() -> Analysis:
    return named(judged(a_set()), "side.mov")


@pytest.mark.parametrize("before_s", [0.8, 3.7])
def test_the_lag_between_two_clips_is_found(first: Analysis, before_s: float):
    aligned = align(first, other(a_set(before_s=before_s)))
    assert aligned.lag_s == pytest.approx(2.0 - before_s, abs=0.1)
    assert aligned.agreement > 0.9


def test_another_set_is_left_out_with_the_reason(first: Analysis):
    pair = join(first, other(a_set((3.0,) * 4)))
    report = pair.first.report
    assert [c.file for c in report.clips] == ["side.mov", "front.mov"]
    assert any("front.mov was left out" in note for note in report.quality.notes)
    assert {f.clip for f in report.findings} == {"side.mov"}


def test_sets_that_fit_at_more_than_one_place_are_left_out(first: Analysis):
    one = named(judged(a_set((1.6,) * 40)), "side.mov")
    aligned = align(one, other(a_set((1.6,) * 39)))
    assert aligned.lag_s is None and "more than one place" in aligned.why


def test_the_report_of_two_views_names_the_clip_of_every_finding(first: Analysis):
    knee = a_set(before_s=1.2)
    knee[knee > 158] += 20.0
    second = other(a_set(before_s=1.2))
    pair = join(first, second)
    report = pair.first.report
    assert report.clip.file == "side.mov" and report == pair.second.report
    assert {f.clip for f in report.findings} <= {"side.mov", "front.mov"}
    assert any("shows the same set" in note for note in report.quality.notes)
    assert report.notices == first.report.notices
    assert len(report.findings) == len(first.report.findings)


def test_two_counts_are_both_told(first: Analysis):
    report = join(first, other(a_set(SECONDS[1:], before_s=2.0))).first.report
    assert any("8 in side.mov, 7 in front.mov" in n for n in report.notices)


def test_clips_of_one_name_are_told_apart(first: Analysis):
    report = join(first, other(a_set(), "side.mov")).first.report
    assert [c.file for c in report.clips] == ["side.mov", "side.mov (second)"]


def test_an_unfit_second_clip_is_left_out_and_an_unfit_first_stays_unfit(first: Analysis):
    unfit = other(np.full(300, 95.0))
    report = join(first, unfit).first.report
    assert report.quality.usable and any("front.mov was left out" in n for n in report.quality.notes)
    report = join(named(unfit, "side.mov"), other(a_set())).first.report
    assert not report.quality.usable and report.count is None
    assert any("fit to judge by itself" in n for n in report.quality.notes)


def test_repetitions_meet_by_their_turns(first: Analysis):
    second = other(a_set(SECONDS[1:], before_s=2.0))
    assert first.reps is not None and second.reps is not None
    lag = align(first, second).lag_s
    assert lag is not None
    assert match_reps(first.reps.reps, second.reps.reps, lag) == {n: n + 1 for n in range(1, 8)}


def finding(check: str, rep: int | None, verdict: str, half: float | None, clip: str) -> FindingPart:
    return FindingPart(
        check=check, rep=rep, time_s=1.0, frame=30, verdict=verdict, measured=None if half is None else 5.0,
        uncertainty=half, limit=10.0, unit="deg", prompt=None, clip=clip,
    )  # fmt: skip


CASES = [
    ("the first where both tell alike", ("clear", 4.0), ("clear", 4.0), "a"),
    ("the second where the first cannot tell", ("cannot-tell", None), ("watch", 9.0), "b"),
    ("the first where the second cannot tell", ("clear", 9.0), ("cannot-tell", None), "a"),
    ("the second where it is much surer", ("clear", 9.0), ("flag", 4.0), "b"),
    ("the first where the second is hardly surer", ("clear", 4.0), ("flag", 3.9), "a"),
]


@pytest.mark.parametrize(("mine", "theirs", "wanted"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_who_answers(first: Analysis, mine: tuple, theirs: tuple, wanted: str):
    own = [finding("lean-back", n, *mine, "a") for n in (1, 2)]
    others = [finding("lean-back", n, *theirs, "b") for n in (1, 2)]
    found, answered = _better(own, others, first.exercise)
    assert [f.clip for f in found] == [wanted, wanted]
    assert answered == (["Leaning back"] if wanted == "b" else [])


def test_a_repetition_that_only_the_first_clip_shows_keeps_its_answer(first: Analysis):
    own = [finding("lean-back", n, "cannot-tell", None, "a") for n in (1, 2, 3)]
    others = [finding("lean-back", n, "clear", 4.0, "b") for n in (2, 3)]
    found, _ = _better(own, others, first.exercise)
    assert [(f.rep, f.clip) for f in found] == [(1, "a"), (2, "b"), (3, "b")]


def test_moments_that_the_second_clip_answered_are_told_in_the_firsts_time(first: Analysis):
    second = other(a_set(before_s=3.7))
    pair = join(first, second)
    one = pair.first.report.findings[0].model_copy(update={"clip": "front.mov", "time_s": 9.0, "frame": 270})
    rest = pair.first.report.findings[1:]
    report = pair.first.report.model_copy(update={"findings": [one, *rest]})
    moved = in_first_times(replace(pair, first=replace(pair.first, report=report)))
    assert moved.findings[0].time_s == pytest.approx(9.0 - 1.7, abs=0.1) and moved.findings[0].frame is None
    assert moved.findings[1:] == rest


def test_a_picture_from_the_second_clip_shows_the_repetition_that_was_flagged(first: Analysis):
    second = other(a_set(SECONDS[1:], before_s=2.0))
    pair = join(first, second)
    assert second.reps is not None and pair.second.reps is not None
    assert [rep.number for rep in pair.second.reps.reps] == list(range(2, 9))
    flagged = second.reps.reps[2]
    moment = finding("too-fast", 4, "flag", 0.1, "front.mov").model_copy(
        update={"time_s": flagged.lower_start_s + 0.1}
    )
    stretch = timed(pair.second, moment)
    assert stretch is not None and stretch.start_s == flagged.lower_start_s


def test_what_one_side_can_never_show_is_told_by_the_clip_from_the_other(first: Analysis):
    own = [finding("lean-back", n, "cannot-tell", None, "a") for n in (1, 2)]
    own = [f.model_copy(update={"reason_code": VIEW}) for f in own]
    others = [finding("lean-back", n, "cannot-tell", None, "b") for n in (1, 2)]
    found, answered = _better(own, others, first.exercise)
    assert {f.clip for f in found} == {"b"} and not answered, "it asked for a clip that is there"


def of_side(analysis: Analysis, own: Own, side: Side, told: list[FindingPart]) -> Analysis:
    """The analysis as if it had been filmed from that side of a member with limits of their own."""
    member = Member(exercises={analysis.exercise.name: own})
    report = analysis.report.model_copy(update={"findings": told})
    exercise = with_member(analysis.exercise, member, side)
    titles = {spec.id: spec.title for spec in exercise.checks}
    told = [f.model_copy(update={"title": titles[f.check]}) for f in told]
    return replace(analysis, exercise=exercise, report=report.model_copy(update={"findings": told}))


def test_a_limit_of_the_knee_that_only_the_second_clip_shows_is_told_by_it(first: Analysis):
    own, second = Own(left=Range(at_most=150.0)), other(a_set())
    hidden = finding("own-range-left", None, "cannot-tell", None, "a")
    hidden = hidden.model_copy(update={"reason_code": VIEW})
    pair = join(
        of_side(first, own, "right", [hidden]),
        of_side(second, own, "left", [finding("own-range-max", 1, "flag", 3.0, "b")]),
    )
    (told,) = pair.first.report.findings
    assert (told.check, told.verdict, told.clip) == ("own-range-max", "flag", "front.mov")
    assert told.check in {spec.id for spec in pair.first.exercise.checks}


def test_each_clip_holds_its_own_knee_to_its_own_limit(first: Analysis):
    own, second = Own(left=Range(at_most=150.0), right=Range(at_most=165.0)), other(a_set())
    pair = join(
        of_side(first, own, "right", [finding("own-range-max", 1, "clear", 3.0, "a")]),
        of_side(second, own, "left", [finding("own-range-max", 1, "flag", 3.0, "b")]),
    )
    told = {(f.title, f.verdict) for f in pair.first.report.findings}
    assert told == {("Right knee past its own limit", "clear"), ("Left knee past its own limit", "flag")}


@pytest.mark.parametrize(
    ("before_s", "said"), [(2.0, "both clips start together."), (3.5, "it starts 1.5 s earlier.")]
)
def test_how_two_clips_fit_is_told_in_plain_words(first: Analysis, before_s: float, said: str):
    (note,) = join(first, other(a_set(before_s=before_s))).first.report.quality.notes[-1:]
    assert note == f"front.mov shows the same set as side.mov; {said}"
