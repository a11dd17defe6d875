"""From the recorded looks at the sample clips to their reports, against their exact truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.exercise import exercise_names, find_exercise
from shared.keypoints import INDEX
from shared.report import SetReport
from tests.samples import checked, looked
from vision.common.notices import TREMBLES
from vision.judging.options import Options
from vision.pair import join
from vision.pipeline import judge_twice

NAMES = [f"{exercise}-{form}" for exercise in exercise_names() for form in ("clean", "faulty")]


def flagged(report: SetReport, check: str) -> set[int | None]:
    return {f.rep for f in report.flags() if f.check == check}


def true_faults(truth: dict, check: str) -> set[int]:
    return {f["rep"] for f in truth["faults"] if f["check"] == check}


@pytest.mark.parametrize("name", NAMES)
def test_every_machine_is_counted_exactly_and_seen_from_the_right_view(name):
    analysis, truth = checked(name)
    report = analysis.report
    assert report.quality.usable, report.quality.problems
    assert report.count == truth["count"]
    assert report.quality.view == truth["view"]
    for rep, true in zip(report.reps, truth["reps"], strict=True):
        assert rep.start_s == pytest.approx(true["start_s"], abs=0.5)
        assert rep.end_s == pytest.approx(true["end_s"], abs=0.5)


@pytest.mark.parametrize("check", ["knee-lockout", "chest-drop"])
@pytest.mark.parametrize("name", ["leg-extension-clean", "leg-extension-faulty"])
def test_injected_faults_are_flagged_on_their_repetitions_and_no_others(name, check):
    analysis, truth = checked(name)
    report = analysis.report
    assert flagged(report, check) == true_faults(truth, check)


@pytest.mark.parametrize("name", [n for n in NAMES if n.endswith("clean")])
def test_a_clean_set_raises_no_flag(name):
    report = checked(name)[0].report
    assert [(f.check, f.rep, f.measured) for f in report.flags()] == []


@pytest.mark.parametrize(
    ("name", "check"),
    [
        ("chest-fly", "hands-behind"),
        ("reverse-fly", "past-body"),
    ],
)
def test_a_side_clip_tells_what_the_other_view_of_a_fly_cannot(name, check):
    other, side = checked(f"{name}-faulty")[0], checked(f"{name}-faulty-side")[0]
    report = join(other, side).first.report
    truth = checked(f"{name}-faulty")[1]
    assert report.count == truth["count"]
    assert {f.clip for f in report.flags() if f.check == check} == {side.clip.file}
    assert flagged(report, check) == true_faults(truth, check)
    assert {f.clip for f in report.findings if f.check == "uneven-sides"} == {other.clip.file}


def _moments_off(name: str, flow: bool) -> list[float]:
    """How far the moments of a sample set's repetitions are told from where they are, s."""
    (seen, again), truth = looked(name), checked(name)[1]
    seen = seen if flow else replace(seen, flow=None)
    exercise = find_exercise(truth["exercise"])
    reps = judge_twice(seen, exercise, Options(cleared=True), lambda: again).report.reps
    return [
        abs(getattr(rep, moment) - true[moment])
        for rep, true in zip(reps, truth["reps"], strict=True)
        for moment in ("start_s", "turn_s", "lower_start_s", "end_s")
    ]


@pytest.mark.parametrize(
    ("exercise", "most_s"), [("leg-curl", 0.025), ("leg-extension", 0.03), ("shoulder-press", 0.03)]
)
def test_the_limbs_flow_tells_moments_nearer_than_the_looks(exercise, most_s):
    by_flow, by_looks = (_moments_off(f"{exercise}-clean", flow) for flow in (True, False))
    assert np.mean(by_flow) < most_s < np.mean(by_looks)


def test_in_a_picture_that_trembles_tempo_is_told_less_surely():
    (seen, again), truth = looked("leg-extension-clean"), checked("leg-extension-clean")[1]
    exercise = find_exercise(truth["exercise"])
    noise = np.random.default_rng(2).normal(0.0, 1.5, seen.flow.moved_px.shape)
    trembling = replace(seen, flow=replace(seen.flow, moved_px=seen.flow.moved_px + noise))
    steady, unsteady = (
        judge_twice(one, exercise, Options(cleared=True), lambda: again).report for one in (seen, trembling)
    )
    usual, less = (
        min(f.uncertainty or np.inf for f in told.findings if f.check == "too-fast")
        for told in (steady, unsteady)
    )
    assert less > 1.5 * usual
    assert TREMBLES in unsteady.quality.notes and TREMBLES not in steady.quality.notes


def _guessed(look):
    """The foot is read now here, now there, while its picture moves softly, as in a dark and grainy clip."""
    shank = [INDEX[f"{side}_ankle"] for side in ("left", "right")]
    image = look.image_px.copy()
    image[:, :, shank, :2] += np.random.default_rng(4).normal(0.0, 45.0, (len(image), 1, 1, 2))
    return replace(look, image_px=image)


def test_a_set_whose_limb_is_guessed_is_refused():
    (seen, again), truth = looked("leg-extension-clean"), checked("leg-extension-clean")[1]
    exercise, options = find_exercise(truth["exercise"]), Options(cleared=True)
    report = judge_twice(
        replace(seen, dense=_guessed(seen.dense)), exercise, options, lambda: _guessed(again)
    ).report
    assert [p.code for p in report.quality.problems] == ["limb-unclear"]
    assert (report.count, report.reps, report.unjudged) == (None, [], None)
    assert not any("left out" in note or "Tempo" in note for note in report.quality.notes)


def test_a_look_that_guesses_is_not_held_against_one_that_sees():
    (seen, again), truth = looked("leg-extension-clean"), checked("leg-extension-clean")[1]
    exercise, options = find_exercise(truth["exercise"]), Options(cleared=True, thorough=True)
    report = judge_twice(seen, exercise, options, lambda: _guessed(again)).report
    assert report.count == truth["count"]
    assert not any("another look" in note for note in report.quality.notes)
