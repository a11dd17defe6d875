"""The whole way on the sample clips, with the real landmark model, against their exact truth."""

from __future__ import annotations

import pytest

from shared.exercise import exercise_names, find_exercise
from shared.report import SetReport
from tests.samples import CLIPS, checked
from vision.judging.options import Options
from vision.pair import join
from vision.pipeline import analyse
from vision.seeing.clip import open_clip
from vision.seeing.pose_mediapipe import MediaPipePose

NAMES = [f"{exercise}-{form}" for exercise in exercise_names() for form in ("clean", "faulty")]


def clips(names):
    """Parameters of which each keeps to one worker, so that a clip is looked at once."""
    return [pytest.param(name, marks=pytest.mark.xdist_group(name)) for name in names]


pytestmark = pytest.mark.slow


def flagged(report: SetReport, check: str) -> set[int | None]:
    return {f.rep for f in report.flags() if f.check == check}


def true_faults(truth: dict, check: str) -> set[int]:
    return {f["rep"] for f in truth["faults"] if f["check"] == check}


@pytest.mark.parametrize("name", clips(NAMES))
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
@pytest.mark.parametrize("name", clips(["leg-extension-clean", "leg-extension-faulty"]))
def test_injected_faults_are_flagged_on_their_repetitions_and_no_others(name, check):
    analysis, truth = checked(name)
    report = analysis.report
    assert flagged(report, check) == true_faults(truth, check)


@pytest.mark.parametrize("name", clips(n for n in NAMES if n.endswith("clean")))
def test_a_clean_set_raises_no_flag(name):
    report = checked(name)[0].report
    assert [(f.check, f.rep, f.measured) for f in report.flags()] == []


@pytest.mark.xdist_group("leg-extension-faulty")
def test_the_same_clip_gives_the_same_report():
    name = "leg-extension-faulty"
    first, truth = checked(name)
    again = analyse(
        open_clip(CLIPS / f"{name}.mp4"),
        find_exercise(truth["exercise"]),
        MediaPipePose(),
        Options(cleared=True),
    )
    assert again.report.to_json() == first.report.to_json()


@pytest.mark.parametrize(
    ("name", "check"),
    [
        pytest.param("chest-fly", "hands-behind", marks=pytest.mark.xdist_group("chest-fly-faulty")),
        pytest.param("reverse-fly", "past-body", marks=pytest.mark.xdist_group("reverse-fly-faulty")),
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
