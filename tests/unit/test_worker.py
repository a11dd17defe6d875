"""What a worker tells the pipeline of the member whose clip it is."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from app.jobs.judged import NO_APPROVED
from app.jobs.queue import Approved, Claimed
from app.jobs.worker import check_clip, own_limits, prepare
from app.store.files import Files
from shared.errors import ClipError
from shared.exercise import Tempo, find_exercise
from shared.limit import Limit
from tests.unit.handmade import analysis
from vision.judging.options import Options
from vision.seeing.marks import MarkPoint


def a_job(**more: Any) -> Claimed:
    fields: dict[str, Any] = {
        "job_id": 1, "attempt": 1, "set_id": 1, "clip": "0" * 64, "clip_name": "tuesday.mov",
        "exercise": "chest-press", "side": None, "height_cm": None, "cleared": False,
    }  # fmt: skip
    return Claimed(**{**fields, **more})


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Any:
    """What the pipeline is asked for a job; nothing is looked at."""

    class Asked(Exception):
        pass

    def analyse(
        source: object, exercise: object, pose: object, options: Options, *_: object, **more: object
    ) -> None:
        raise Asked(options)

    monkeypatch.setattr("vision.pipeline.analyse", analyse)
    monkeypatch.setattr("vision.seeing.clip.open_clip", lambda path: SimpleNamespace())
    monkeypatch.setattr("vision.seeing.pose_mediapipe.MediaPipePose", lambda model: SimpleNamespace())
    monkeypatch.setattr(Files, "path", lambda self, address: tmp_path / "kept")
    work = iter(range(9))

    def asked(job: Claimed) -> Options:
        folder = tmp_path / str(next(work))
        folder.mkdir()
        with pytest.raises(Asked) as found:
            clips = prepare(job, Files(tmp_path), folder)
            check_clip(job, clips, folder, lambda step, share: None)
        options: Options = found.value.args[0]
        return options

    return asked


@pytest.mark.parametrize("cleared", [True, False])
def test_only_who_is_cleared_is_told_to_be(asked: Any, cleared: bool) -> None:
    assert asked(a_job(cleared=cleared)).cleared is cleared


def test_side_and_height_reach_the_pipeline(asked: Any) -> None:
    options = asked(a_job(side="left", height_cm=171.0))
    assert (options.side, options.height_cm, options.member) == ("left", 171.0, None)
    assert (asked(a_job()).side, asked(a_job()).height_cm) == (None, None)


def test_who_is_new_has_the_stricter_limits(asked: Any) -> None:
    assert own_limits(a_job()) is None
    member = asked(a_job(beginner=True)).member
    assert member is not None and member.new and member.own("chest-press").limits == {}


def test_marks_and_the_tempo_asked_reach_the_pipeline(asked: Any) -> None:
    tempo = Tempo(lift_s=2, lower_s=3)
    options = asked(a_job(marks=({"name": "seat", "x": 3.0, "y": 4.0, "time_s": 1.0},), tempo=tempo))
    assert options.marks == (MarkPoint("seat", 3.0, y=4.0, time_s=1.0),)
    assert options.member is not None and options.member.own("chest-press").tempo == tempo


def test_the_approved_set_reaches_the_pipeline_and_one_that_cannot_be_read_stops_nothing(asked: Any) -> None:
    kept = analysis(exercise=find_exercise("leg-extension")).report
    told = asked(a_job(exercise="leg-extension", approved=Approved(kept.to_json(), None))).reference
    assert told is not None and told.report == kept and not told.traces
    assert asked(a_job(exercise="leg-extension", approved=Approved("{}", None))).reference is None
    assert asked(a_job(exercise="chest-press", approved=Approved(kept.to_json(), None))).reference is None


@pytest.mark.parametrize(("body", "notes"), [(None, []), ("{}", [NO_APPROVED])])
def test_an_approved_set_that_cannot_be_read_is_told_in_the_notes(
    asked: Any, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, body: str | None, notes: list[str]
) -> None:
    told: list[Any] = []

    def judge(*given: Any) -> Any:
        told.extend(given[-1])
        raise ClipError("no video")

    monkeypatch.setattr("app.jobs.worker.judge", judge)
    job = a_job(approved=None if body is None else Approved(body, None))
    with pytest.raises(ClipError):
        check_clip(job, prepare(job, Files(tmp_path), tmp_path), tmp_path, lambda step, share: None)
    assert told == notes


def test_own_limits_are_kept_but_for_those_of_checks_that_are_gone() -> None:
    member = own_limits(a_job(limits={"elbow-lockout": {"at_most": 165.0}, "no-such": {"at_most": 1.0}}))
    assert member is not None and not member.new
    assert member.own("chest-press").limits == {"elbow-lockout": Limit(at_most=165.0)}


def test_two_clips_of_a_set_are_judged_together_and_all_that_is_left_knows_both(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    asked: list[Any] = []

    def analyse_pair(sources: Any, *_: object, **more: object) -> Any:
        asked.append([source.name for source in sources])
        return SimpleNamespace(first="first", second="second")

    def leave(source: Any, analysis: object, facts: object, out: Path, progress: object, second: Any) -> Any:
        asked.append((source.name, analysis, second[0].name, second[1]))
        return ()

    monkeypatch.setattr("vision.pair.analyse_pair", analyse_pair)
    monkeypatch.setattr("vision.pair.in_first_times", lambda pair: f"of {pair.first} and {pair.second}")
    monkeypatch.setattr("app.jobs.worker.leave", leave)
    monkeypatch.setattr("vision.seeing.clip.open_clip", lambda path: SimpleNamespace(name=path.name))
    monkeypatch.setattr("vision.seeing.pose_mediapipe.MediaPipePose", lambda model: SimpleNamespace())
    monkeypatch.setattr(Files, "path", lambda self, address: tmp_path / address)
    job = a_job(clip_name="side.mov", second="1" * 64, second_name="front.mov")
    found = check_clip(job, prepare(job, Files(tmp_path), tmp_path), tmp_path, lambda step, share: None)
    assert found.report == "of first and second"
    assert asked == [["side.mov", "front.mov"], ("side.mov", "first", "front.mov", "second")]
