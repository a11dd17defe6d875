"""What becomes of the sets that were found: named, cut, checked, passed over; the reading is a fake."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import handmade
import pytest

from app import cli
from app.command import recordings
from app.command.recordings import SETS, Asked, Watcher, check_recording, guessed, machines, no_set
from app.command.sets import FACES
from app.jobs.contained import quiet
from shared.errors import ClipError, InternalError, UsageError
from shared.exercise import exercise_names, find_exercise
from shared.recording import Likely, LikelySets
from shared.report import SetReport, UnjudgedPart
from vision.judging.quality import Problem
from vision.seeing.subject import SubjectPoint

ONE, OTHER = exercise_names()[:2]
NAMED = Asked(find_exercise(ONE), {7: "Mara"})


def likely(at_s: float, **more: Any) -> Likely:
    moments = {"start_s": at_s, "end_s": at_s + 40, "cut_start_s": at_s - 9, "cut_end_s": at_s + 49}
    return Likely(**{**moments, "sitting": 0, "swings": 24, **more})


def report(count: int | None = 12) -> SetReport:
    made = handmade.analysis().report
    return made.model_copy(update={"count": count})


class Reading:
    """Stands in for the processes that read the recording and check its cuts."""

    def __init__(self, *sets: Likely) -> None:
        self.found = LikelySets(600.0, 200.0, sets)
        self.reports: list[SetReport | Exception] = []
        self.cuts: list[tuple[float, float]] = []
        self.wanted: list[Any] = []

    def run(self, function: Callable[..., Any], given: tuple[Any, ...], *_: Any) -> Any:
        if function is recordings.search:
            return self.found
        _, start_s, end_s, clip = given
        self.cuts.append((start_s, end_s))
        clip.write_bytes(b"cut")
        return start_s - 1.0

    def check(self, child: Any, wanted: Any, say: Any) -> Any:
        made = self.reports.pop(0)
        self.wanted.append(wanted)
        if isinstance(made, Exception):
            raise made
        page = wanted.out / "report.html"
        page.write_text("page")
        return made, wanted.definition, page


@pytest.fixture
def reading(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Reading]:
    def made(*sets: Likely, reports: list[Any] | None = None) -> Reading:
        fake = Reading(*sets)
        fake.reports = [report()] * len(sets) if reports is None else reports
        monkeypatch.setattr(recordings, "run_contained", fake.run)
        monkeypatch.setattr(recordings, "check_contained", fake.check)
        monkeypatch.setattr(recordings, "ready", lambda: open("/dev/null"))  # noqa: SIM115
        return fake

    return made


def checked(tmp_path: Path, asked: Asked = NAMED, recording: str = "monday.mp4") -> Any:
    (tmp_path / recording).write_bytes(b"a recording")
    return check_recording(tmp_path / recording, asked, tmp_path / "out", quiet, Watcher())


def test_each_set_is_told_in_the_recordings_time(reading: Any, tmp_path: Path) -> None:
    reading(likely(100.0))
    (one,) = checked(tmp_path).sets
    reps = report().reps
    assert (one.start_s, one.end_s) == (90.0 + reps[0].start_s, pytest.approx(90.0 + reps[-1].end_s))
    assert (one.clip, one.report, one.count) == ("set-01/set-01.mp4", "set-01/report.html", 12)
    told = json.loads((tmp_path / "out" / SETS).read_text())
    assert told["sets"][0]["clip_start_s"] == 90.0 and told["cautions"]


def test_the_recording_is_only_read(reading: Any, tmp_path: Path) -> None:
    reading(likely(100.0))
    checked(tmp_path)
    assert (tmp_path / "monday.mp4").read_bytes() == b"a recording"


def test_too_few_repetitions_leave_nothing_behind(reading: Any, tmp_path: Path) -> None:
    reading(likely(100.0), likely(200.0), reports=[report(2), report(5)])
    told = checked(tmp_path)
    assert [(s.number, s.count) for s in told.sets] == [(1, 5)]
    assert "2 full repetitions" in told.passed_over[0].why
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["set-01", SETS]


def test_what_cannot_be_judged_is_kept_and_told_and_costs_the_others_nothing(
    reading: Any, tmp_path: Path
) -> None:
    reading(likely(100.0), likely(200.0), reports=[InternalError("It crashed."), report()])
    first, second = checked(tmp_path).sets
    assert (first.problem, first.count, first.report) == ("It crashed.", None, None)
    assert (tmp_path / "out" / first.clip).exists() and second.count == 12


def test_a_card_names_the_sitting_and_others_are_numbered(reading: Any, tmp_path: Path) -> None:
    reading(
        likely(100.0, card=7), likely(200.0, sitting=1), likely(300.0, sitting=1),
        likely(400.0, sitting=2, card=9), likely(500.0, sitting=3),
    )  # fmt: skip
    told = checked(tmp_path).sets
    assert [one.who for one in told] == ["Mara", "unknown 1", "unknown 1", "number 9", "unknown 2"]
    assert [one.who_by for one in told] == ["card", "unknown", "unknown", "card", "unknown"]


def test_tags_go_before_what_was_named_and_that_before_a_guess() -> None:
    tag = find_exercise(OTHER).tag_number
    told = machines([likely(100.0, tag=tag), likely(200.0, fits=(OTHER,))], find_exercise(ONE))
    assert [(m.exercise.name, m.by) for m in told] == [(OTHER, "tags"), (ONE, "option")]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("fits", "name"),
    [
        ([(ONE,), (ONE,)], ONE),
        ([(ONE,)], None),
        ([(ONE, OTHER), (ONE,), ()], ONE),
        ([(ONE, OTHER)], None),
        ([(ONE,), (OTHER,)], None),
        ([(), ()], None),
        ([], None),
    ],
)
def test_the_machine_is_guessed_only_where_one_alone_fits(fits: list[tuple[str, ...]], name: str) -> None:
    machine = guessed([likely(100.0 * k, fits=one) for k, one in enumerate(fits)])
    assert (machine.exercise.name if machine.exercise else None) == name


def test_an_unknown_machine_is_cut_and_not_judged(reading: Any, tmp_path: Path) -> None:
    reading(likely(100.0, fits=(ONE, OTHER)), reports=[])
    (one,) = checked(tmp_path, Asked(None, {})).sets
    assert one.exercise is None and one.count is None
    assert f"({ONE} or {OTHER} would fit)" in str(one.problem)
    assert (tmp_path / "out" / one.clip).exists()


def test_who_is_meant_is_pointed_at_in_the_cuts_time(reading: Any, tmp_path: Path) -> None:
    fake = reading(likely(100.0, at=(300.0, 540.0, 120.0)), likely(300.0))
    checked(tmp_path)
    assert [wanted.options.subject for wanted in fake.wanted] == [SubjectPoint(300.0, 540.0, 30.0), None]


def test_what_lies_in_the_folder_already_is_never_touched(reading: Any, tmp_path: Path) -> None:
    reading(likely(100.0))
    mine = tmp_path / "out" / "set-01" / "holiday.mp4"
    mine.parent.mkdir(parents=True)
    mine.write_bytes(b"mine")
    with pytest.raises(UsageError, match="is not empty; choose a new one"):
        checked(tmp_path)
    assert mine.read_bytes() == b"mine"


def test_a_folder_that_cannot_be_written_is_one_sentence(reading: Any, tmp_path: Path) -> None:
    reading(likely(100.0))
    (tmp_path / "out").write_text("a file")
    with pytest.raises(UsageError, match="cannot be written to"):
        checked(tmp_path)


@pytest.mark.parametrize("code", ["no-set", "standing"])
def test_what_the_check_says_of_too_little(code: str) -> None:
    unfit = report(None).model_copy(update={"unjudged": UnjudgedPart(count=2, reps=[])})
    assert "2 full" in str(no_set(unfit, 24)) and no_set(report(3), 24) is None
    nothing = report(None)
    quality = nothing.quality.model_copy(update={"usable": False, "problems": [Problem(code, "None.")]})
    assert no_set(nothing.model_copy(update={"quality": quality}), 24) is not None


@pytest.mark.parametrize(("swings", "listed"), [(5, False), (6, True), (24, True)])
def test_what_could_not_be_judged_is_listed_where_three_repetitions_were_seen(
    swings: int, listed: bool
) -> None:
    assert (no_set(report(None), swings) is None) is listed


def test_the_command_says_a_line_a_set(reading: Any, tmp_path: Path, capsys: Any) -> None:
    reading(likely(100.0), likely(200.0), reports=[report(), report(1)])
    (tmp_path / "r.mp4").write_bytes(b"a recording")
    command = ["sets", str(tmp_path / "r.mp4"), "--out", str(tmp_path / "out"), "--exercise", ONE]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 0
    said = capsys.readouterr().out
    assert "Set 1: 0:01:33 to" in said and f"unknown 1, {ONE} (as named), 12 reps." in said
    assert "No set: 0:03:20" in said and "Stop on sharp or joint pain" in said
    assert "delete those nobody agreed to" in said and FACES in said


def test_what_cannot_be_read_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: Any
) -> None:
    def fails(*_: Any) -> None:
        raise ClipError("r.mp4 is not there; check the name of the clip.")

    monkeypatch.setattr(recordings, "run_contained", fails)
    command = ["sets", str(tmp_path / "r.mp4"), "--out", str(tmp_path / "out")]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 2
    assert "r.mp4 is not there" in capsys.readouterr().err and not (tmp_path / "out").exists()
