"""``plumbset check`` reads clips in a process of its own: whatever that dies of is one sentence."""

from __future__ import annotations

import ctypes
import faulthandler
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import handmade
import pytest

from app import cli
from app.command import checking
from app.jobs.contained import Child
from app.jobs.held import Limits
from shared.errors import ClipError
from tests.stress.warm import warm

pytestmark = [
    pytest.mark.skipif(sys.platform != "linux", reason="what is patched is known only to a fork"),
    pytest.mark.filterwarnings("ignore:This process:DeprecationWarning"),
    pytest.mark.filterwarnings("ignore:.*multi-threaded.*fork:DeprecationWarning"),
]


def _crashes(*_: Any, **more: Any) -> None:
    faulthandler.disable()  # that of the tests would write a page
    ctypes.string_at(0)


def _is_killed(*_: Any, **more: Any) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _hangs(*_: Any, **more: Any) -> None:
    signal.pause()


def _is_damaged(*_: Any, **more: Any) -> None:
    raise ClipError("set.mov is damaged.")


def _lacks_a_library(*_: Any, **more: Any) -> None:
    raise ImportError("libGL.so.1: cannot open shared object file")


def _has_a_bug(*_: Any, **more: Any) -> None:
    raise KeyError("knee")


def _wants_all_memory(*_: Any, **more: Any) -> None:
    bytearray(1 << 40)


def _grows(*_: Any, **more: Any) -> None:
    kept = []
    while True:
        kept.append(bytearray(os.urandom(1 << 20)) * 16)


def _burns(*_: Any, **more: Any) -> None:
    while True:
        pass


@pytest.mark.parametrize(
    ("analyse", "limits", "said"),
    [
        (_grows, Limits(wall_s=600.0, memory_mb=700), "more than 700 MB of memory and was stopped"),
        (_burns, Limits(wall_s=600.0, cpu_s=1), "took too long and was stopped"),
    ],
)
def test_its_limits_of_memory_and_of_processor_time_hold(
    check: Callable[..., int], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
    analyse: Any, limits: Limits, said: str,
) -> None:  # fmt: skip
    monkeypatch.setattr(checking, "LIMITS", limits)
    assert check(analyse) == 1
    told = capsys.readouterr().err
    assert said in told and told.count("\n") == 1


@pytest.fixture
def check(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[[Callable[..., Any]], int]:
    import vision.pipeline
    import vision.seeing.clip
    import vision.seeing.pose_mediapipe
    import vision.telling.write

    def run(analyse: Callable[..., Any]) -> int:
        monkeypatch.setattr(vision.pipeline, "analyse", analyse)
        command = ["check", "set.mov", "--exercise", "leg-extension", "--out", str(tmp_path / "out")]
        return cli.run(lambda: cli.app(command, standalone_mode=False))

    monkeypatch.setattr(vision.seeing.clip, "open_clip", lambda path: SimpleNamespace(clip=handmade.CLIP))
    monkeypatch.setattr(vision.telling.write, "write_outputs", lambda s, a, out, *_: out / "report.html")
    monkeypatch.setattr(vision.seeing.pose_mediapipe, "MediaPipePose", lambda model: object())
    monkeypatch.setattr(checking, "LIMITS", Limits(wall_s=1.0))
    monkeypatch.setattr(checking, "ready", lambda: Child(warm((), "fork")))
    monkeypatch.delenv(cli.DEBUG, raising=False)
    return run


@pytest.mark.parametrize(
    ("analyse", "code", "said"),
    [
        (_crashes, 1, "made the program that reads it crash (SIG"),
        (_is_killed, 1, "want of memory; the clip is kept"),
        (_hangs, 1, "took too long and was stopped; the clip is kept"),
        (_wants_all_memory, 1, "of memory and was stopped; the clip is kept"),
        (_is_damaged, 2, "plumbset: set.mov is damaged."),
        (_lacks_a_library, 1, "The system library libGL.so.1 is missing"),
        (_has_a_bug, 1, "Something went wrong on our side (KeyError)"),
    ],
)
def test_whatever_the_reader_dies_of_is_one_sentence(
    check: Callable[..., int], capsys: pytest.CaptureFixture[str], analyse: Any, code: int, said: str
) -> None:
    assert check(analyse) == code
    told = capsys.readouterr().err
    assert said in told and told.count("\n") == 1 and "Traceback" not in told


def test_what_the_reader_found_is_printed_here(
    check: Callable[..., int], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert check(lambda *_, **more: handmade.analysis()) == 0
    out = capsys.readouterr().out
    assert "Leg extension: Stop just short" in out and f"{tmp_path}/out/report.html" in out


def test_no_half_written_file_stays(check: Callable[..., int], tmp_path: Path) -> None:
    def analyse(*_: Any, **more: Any) -> None:
        (tmp_path / "out").mkdir()
        (tmp_path / "out" / ".part-annotated.mp4").write_bytes(b"half")
        (tmp_path / "out" / "report.json").write_bytes(b"of an older run")
        os.kill(os.getpid(), signal.SIGKILL)

    assert check(analyse) == 1
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["report.json"]


_ASKS = """
import os, signal
from app.jobs.contained import run_contained
from tests.store.test_contained import _says_its_number
if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored where the tests run in the background
    def say(step, share, first):
        os.killpg(os.getpgid(0), signal.SIGINT)
    try:
        run_contained(_says_its_number, (), say, None)
    except KeyboardInterrupt:
        print("stopped")
"""


def test_ctrl_c_reaches_only_who_watches() -> None:
    done = subprocess.run(
        [sys.executable, "-c", _ASKS], capture_output=True, text=True, check=False, start_new_session=True
    )
    assert (done.stdout, done.stderr) == ("stopped\n", "")
