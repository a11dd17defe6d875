"""The command: exit codes, one sentence a failure, and what a person reads on the terminal."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from contextlib import nullcontext
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import handmade
import pytest
from test_machine_places import sight
from test_places_option import written

from app import cli
from shared.errors import ClipError, InternalError, UsageError
from vision.judging.options import Options
from vision.seeing.marks import MarkPoint
from vision.seeing.subject import SubjectPoint
from vision.telling.analysis import Analysis


class Fakes:
    """Stands in for the pipeline; remembers how it was called."""

    def __init__(self, analysis: Analysis) -> None:
        self.analysis = analysis
        self.fails: Exception | None = None
        self.options: Options | None = None
        self.written: tuple[Any, ...] = ()

    def analyse(
        self, source: Any, exercise: Any, pose: Any, options: Options, progress: Any, **_: Any
    ) -> Analysis:
        self.options = options
        progress(0.5)
        if self.fails is not None:
            raise self.fails
        return self.analysis

    def write(self, source: Any, analysis: Analysis, out: Path, *rest: Any) -> Path:
        self.written = (out, *rest[:2])
        return out / "report.html"


@pytest.fixture
def fakes(monkeypatch: pytest.MonkeyPatch) -> Fakes:
    import app.command.checking
    import vision.pipeline
    import vision.seeing.clip
    import vision.seeing.pose_mediapipe
    import vision.telling.write

    class Here:
        def ask(self, function: Any, given: tuple[Any, ...], say: Any, *_: Any) -> Any:
            return function(*given, say)

        def end(self) -> None:
            return None

    monkeypatch.setattr(app.command.checking, "ready", lambda: nullcontext(Here()))
    monkeypatch.setattr(app.command.checking, "run_contained", Here().ask)
    fakes = Fakes(handmade.analysis())
    monkeypatch.setattr(vision.seeing.clip, "open_clip", lambda path: SimpleNamespace(clip=handmade.CLIP))
    monkeypatch.setattr(vision.pipeline, "analyse", fakes.analyse)
    monkeypatch.setattr(vision.telling.write, "write_outputs", fakes.write)
    monkeypatch.setattr(vision.seeing.pose_mediapipe, "MediaPipePose", lambda model: object())
    monkeypatch.delenv(cli.DEBUG, raising=False)
    monkeypatch.setenv("COLUMNS", "200")
    return fakes


def _run(*arguments: str) -> int:
    return cli.run(lambda: cli.app(list(arguments), standalone_mode=False))


def _check(out: Path, *more: str) -> int:
    return _run("check", "set.mov", "--exercise", "leg-extension", "--out", str(out), *more)


def test_a_judged_set_prints_its_reps_flags_cautions_and_page(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(tmp_path) == 0
    out = capsys.readouterr().out
    assert (
        "Leg extension: Stop just short of locking your knees. Reps 4 and 9 of 13 (12 full, 1 short)" in out
    )
    assert "flagged: chest dropping, load let fall" in out and "short, not counted" in out
    moment = (
        "Repetition 4 at 17.4 s: knees locked out, 181 degrees, give or take 4 (limit: at most 172 degrees)"
    )
    assert f"Flagged. {moment}" in out.replace("\u00a0", " ")
    assert 'Say: "Stop just short of locking your knees."' in out
    assert "call for emergency help" in out and f"Report: {tmp_path}/report.html" in out
    assert out.index("Repetition 4 at") < out.index("Repetition 6 at"), "flags come before what is to watch"


def test_an_unfit_clip_is_told_with_how_to_film_again(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fakes.analysis = handmade.analysis(usable=False)
    assert _check(tmp_path) == 3
    out = capsys.readouterr().out
    assert "not fit to judge" in out and handmade.TOO_DARK in out
    assert "Film from the side: Phone level" in out and "Followed but not judged: 12" in out
    assert " full, " not in out and "flagged" not in out


def test_progress_as_json_stands_on_standard_error_alone(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(tmp_path, "--progress", "json") == 0
    told = capsys.readouterr()
    lines = [json.loads(line) for line in told.err.splitlines()]
    assert [line["stage"] for line in lines][-2:] == ["Writing the report", "Done"]
    assert "Leg extension: Stop just short" in told.out and "{" not in told.out


def test_options_reach_the_pipeline(fakes: Fakes, tmp_path: Path) -> None:
    options = ["--side", "left", "--subject", "540,900.5@2", "--height-cm", "172", "--cleared", "--raw"]
    assert _check(tmp_path, *options, "--annotated", "--show-faces") == 0
    assert fakes.options == Options("left", SubjectPoint(540.0, 900.5, 2.0), 172.0, True, True)
    assert fakes.written == (tmp_path, True, True)


def test_marks_reach_the_pipeline(fakes: Fakes, tmp_path: Path) -> None:
    marks = ["--mark", "pivot=500,900@2.5", "--mark", "stack=60,610", "--pivot-depth-cm", "-8"]
    assert _check(tmp_path, *marks) == 0
    assert fakes.options is not None and fakes.options.pivot_depth_cm == -8.0
    assert fakes.options.marks == (MarkPoint("pivot", 500.0, 900.0, 2.5), MarkPoint("stack", 60.0, 610.0))


def test_places_reach_the_pipeline(fakes: Fakes, tmp_path: Path) -> None:
    marked = written(tmp_path / "marked.json", sight())
    assert _check(tmp_path, "--places", str(marked)) == 0
    assert fakes.options is not None and fakes.options.sights == (sight(),)


def test_two_clips_of_a_set_make_one_report(
    fakes: Fakes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import vision.pair

    seen: list[int] = []

    def pair(sources: Any, *rest: Any) -> Any:
        seen.append(len(sources))
        return SimpleNamespace(first=fakes.analysis, second=fakes.analysis)

    monkeypatch.setattr(vision.pair, "analyse_pair", pair)
    assert _run("check", "side.mov", "front.mov", "--exercise", "shoulder-press", "--out", str(tmp_path)) == 0
    assert seen == [2] and fakes.written[0] == tmp_path


@pytest.mark.parametrize(
    ("clips", "said"),
    [(["a.mov", "a.mov"], "a.mov was given twice"), (["a", "b", "c"], "More than two clips were given")],
)
def test_more_clips_than_can_be_used_are_refused(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str], clips: list[str], said: str
) -> None:
    assert _run("check", *clips, "--exercise", "shoulder-press", "--out", str(tmp_path)) == 2
    assert said in capsys.readouterr().err and fakes.options is None


FAILURES = [
    (ClipError("set.mov is empty; copy it again."), 2, "plumbset: set.mov is empty; copy it again.\n"),
    (InternalError("The model could not be started."), 1, "plumbset: The model could not be started.\n"),
    (KeyError("knee"), 1, "Something went wrong on our side (KeyError); your clip is untouched."),
    (KeyboardInterrupt(), 130, "plumbset: Stopped"),
    (
        ImportError("libGL.so.1: cannot open shared object file: No such file or directory"),
        1,
        "The system library libGL.so.1 is missing; install it with: sudo apt-get install libgl1",
    ),
    (
        OSError("libGLESv2.so.2: cannot open shared object file"),
        1,
        "The system library libGLESv2.so.2 is missing",
    ),
]


@pytest.mark.parametrize(("error", "code", "said"), FAILURES, ids=[type(f[0]).__name__ for f in FAILURES])
def test_a_failure_is_one_sentence_and_its_code(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str], error: Exception, code: int, said: str
) -> None:
    fakes.fails = error
    assert _check(tmp_path) == code
    err = capsys.readouterr().err
    assert said in err and "Traceback" not in err and err.count("\n") == 1


def test_details_are_there_for_those_who_ask(
    fakes: Fakes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fakes.fails = KeyError("knee")
    monkeypatch.setenv(cli.DEBUG, "1")
    with pytest.raises(KeyError, match="knee"):
        _check(tmp_path)


USAGE = [
    (["--side", "up"], "'up' is not one of 'left', 'right'"),
    (["--subject", "middle"], "--subject 'middle' is no point; write x,y@t"),
    (["--subject", "1,2,3"], "is no point"),
    (["--subject", "-4,2"], "is no point"),
    (["--subject", "5000,2"], "lies outside the upright picture, which is 1080 wide and 1920 high"),
    (["--subject", "5,2@900"], "lies after the clip's end at 62.0 s"),
    (["--height-cm", "17"], "--height-cm 17 is no body height"),
    (["--height-cm", "nan"], "--height-cm nan is no body height"),
    (["--exercise", "leg-extention"], "did you mean 'leg-extension'"),
    (["--exercise", "mine.toml"], "mine.toml: cannot be read"),
    (["--mark", "stack"], "--mark 'stack' is no mark; write name=x,y@t"),
    (["--mark", "stack=5000,2"], "lies outside the upright picture"),
    (["--pivot-depth-cm", "99"], "--pivot-depth-cm 99 fits no machine"),
    (["--places", "none.json"], "none.json: cannot be read"),
    (["--speed", "2"], "No such option: --speed"),
]


@pytest.mark.parametrize(("more", "said"), USAGE, ids=[" ".join(u[0]) for u in USAGE])
def test_a_usage_error_is_one_sentence_and_code_2(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    assert _check(tmp_path, *more) == 2
    err = capsys.readouterr().err
    assert said in err and err.count("\n") == 1
    assert fakes.written == ()


def test_a_folder_that_is_a_file_fails_before_the_long_part(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    assert _check(tmp_path / "taken" / "deeper") == 2
    assert "taken is a file; choose a folder" in capsys.readouterr().err
    assert fakes.options is None


def test_what_is_missing_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert _run("check", "set.mov", "--exercise", "leg-curl") == 2
    assert "Missing option '--out'" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("markers", "said"), [(set(), "shows no printed tag"), ({80}, "shows tags of an unknown machine (11)")]
)
def test_without_a_machine_s_name_its_tags_must_be_seen(
    fakes: Fakes,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    markers: set[int],
    said: str,
) -> None:
    monkeypatch.setattr("vision.seeing.tag_tracker.seen_tags", lambda source: markers)
    assert _run("check", "set.mov", "--out", "x") == 2
    err = capsys.readouterr().err
    assert said in err and "say which machine it is with --exercise" in err


def test_the_tags_name_the_machine(fakes: Fakes, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("vision.seeing.tag_tracker.seen_tags", lambda source: {8, 9})
    assert _run("check", "set.mov", "--out", str(tmp_path)) == 0
    assert fakes.written


@pytest.mark.parametrize("text", ["540,900", " 540 , 900 @ 2.5s", "540.5,900@0"])
def test_points_read_as_people_write_them(text: str) -> None:
    assert cli.parse_subject(text).y == 900


def test_a_point_without_a_moment_is_in_the_first_frame() -> None:
    assert cli.parse_subject("540,900") == SubjectPoint(540, 900, 0)
    with pytest.raises(UsageError, match="is no point"):
        cli.parse_subject("540,900@")


def test_the_exercises_are_listed_and_explained(capsys: pytest.CaptureFixture[str]) -> None:
    assert _run("exercises") == 0
    assert "leg-extension" in capsys.readouterr().out
    assert _run("exercises", "show", "reverse-fly") == 0
    out = capsys.readouterr().out
    assert "Use this machine only once your trainer has cleared you" in out and "Film from the rear" in out
    assert "Getting in" in out and "Getting out" in out and "sharp or joint pain" in out
    assert len(out.splitlines()) <= 51 and "ACSM" not in out
    assert _run("exercises", "show", "reverse-fly", "--checks") == 0
    out = capsys.readouterr().out
    assert "Too fast (too-fast)  at least 1.0 seconds" in out and "ACSM" in out


def test_brackets_in_what_people_wrote_are_printed_as_they_are(
    fakes: Fakes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    fakes.analysis = handmade.analysis(notices=["[bold]not a style[/bold]"])
    assert _check(tmp_path) == 0
    assert "[bold]not a style[/bold]" in capsys.readouterr().out


def test_help_is_there_at_once_and_loads_nothing_heavy() -> None:
    code = (
        "import sys; from app import cli; cli.run(lambda: cli.app(['--help'], standalone_mode=False)); "
        "heavy = {'numpy', 'scipy', 'cv2', 'av', 'mediapipe', 'jinja2', 'pydantic'} & set(sys.modules); "
        "print(*heavy, file=sys.stderr); sys.exit(len(heavy))"
    )
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "check" in done.stdout
    assert time.perf_counter() - start < 3, "help took seconds"
