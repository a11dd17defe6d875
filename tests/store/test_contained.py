"""A function in a process of its own: whatever that dies of becomes one sentence, and nothing else dies."""

from __future__ import annotations

import ctypes
import os
import select
import signal
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

from app.jobs.contained import OURS, Limits, Say, run_contained
from app.jobs.queue import JobLost
from app.store.files import Files
from shared.errors import ClipError, DefinitionError, InputError, InternalError, PlumbsetError

SMALL = Limits(wall_s=120, cpu_s=60)


def _quiet(step: str, share: float) -> None:
    return None


def _adds(one: int, two: int, say: Say) -> int:
    say("Adding", 0.5)
    return one + two


def _crashes(say: Say) -> None:
    os.close(2)  # the fault handler of the tests would write a page
    ctypes.string_at(0)


def _leaves(say: Say) -> None:
    os._exit(7)


def _is_killed(say: Say) -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def _hangs(say: Say) -> None:
    ctypes.PyDLL(None).pause()  # holds the interpreter's lock, as native code may


def _burns(say: Say) -> None:
    while True:
        pass


def _grows(say: Say) -> None:
    kept = []
    while True:
        kept.append(bytearray(os.urandom(1 << 20)) * 16)


def _asks_for_all(say: Say) -> None:
    bytearray(1 << 38)


def _raises(kind: type[Exception], given: tuple[Any, ...], say: Say) -> None:
    raise kind(*given)


def test_what_is_returned_and_said_comes_through() -> None:
    said: list[tuple[str, float]] = []
    assert run_contained(_adds, (2, 3), lambda *s: said.append(s), SMALL) == 5
    assert said == [("Adding", 0.5)]


@pytest.mark.parametrize(
    ("function", "limits", "sentence"),
    [
        (_crashes, SMALL, "crash .SIG(SEGV|BUS)."),
        (_leaves, SMALL, "failed on our side"),
        (_is_killed, SMALL, "want of memory"),
        (_hangs, Limits(wall_s=0.5), "took too long"),
        (_burns, Limits(wall_s=120, cpu_s=1), "took too long"),
        (_grows, Limits(wall_s=120, memory_mb=300), "more than 300 MB"),
        (_asks_for_all, SMALL, "more than 24000 MB"),
    ],
)
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs Linux to see memory and signals")
def test_whatever_it_dies_of_is_one_sentence(function: Any, limits: Limits, sentence: str) -> None:
    with pytest.raises(InternalError, match=sentence) as told:
        run_contained(function, (), _quiet, limits)
    assert "the clip is kept" in str(told.value)


@pytest.mark.parametrize(
    ("error", "given", "kind", "sentence"),
    [
        (ClipError, ("tuesday.mov is empty.",), InputError, "tuesday.mov is empty."),
        (
            DefinitionError,
            ("own.toml", [("reps", "is no number")]),
            InputError,
            "own.toml: reps: is no number",
        ),
        (InternalError, ("The model is gone.",), InternalError, "The model is gone."),
        (ValueError, ("Ilse",), InternalError, OURS),
    ],
)
def test_what_it_raises_keeps_its_sentence_and_kind(
    error: type[Exception], given: tuple[Any, ...], kind: type[PlumbsetError], sentence: str
) -> None:
    with pytest.raises(kind) as told:
        run_contained(_raises, (error, given), _quiet, SMALL)
    assert str(told.value) == sentence


def test_it_is_ended_when_nobody_wants_the_answer_any_more() -> None:
    def lost(step: str, share: float) -> None:
        raise JobLost

    with pytest.raises(JobLost):
        run_contained(_adds, (2, 3), lost, SMALL)


def test_others_go_on_beside_one_that_crashes() -> None:
    results: list[Any] = []

    def work() -> None:
        results.append(run_contained(_adds, (1, 1), _quiet, SMALL))

    beside = threading.Thread(target=work)
    beside.start()
    with pytest.raises(InternalError):
        run_contained(_crashes, (), _quiet, SMALL)
    beside.join()
    assert results == [2]


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="needs Linux to wait for a process of another")
def test_it_ends_with_the_process_that_started_it() -> None:
    code = (
        "import os\nfrom app.jobs.contained import run_contained, Limits\n"
        "from tests.store.test_contained import _says_its_number\n"
        "if __name__ == '__main__':\n"
        "    run_contained(_says_its_number, (), lambda step, share: print(step, flush=True))\n"
    )
    parent = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    child = os.pidfd_open(int(parent.stdout.readline()))
    parent.kill()
    parent.communicate()
    gone, _, _ = select.select([child], [], [], 60)
    os.close(child)
    assert gone


def _says_its_number(say: Say) -> None:
    say(str(os.getpid()), 0.0)
    threading.Event().wait()


def test_a_folder_to_work_in_is_gone_afterwards(tmp_path: Path) -> None:
    files = Files(tmp_path / "files")
    with pytest.raises(RuntimeError), files.work() as folder:
        (folder / "part").write_text("x", encoding="utf-8")
        raise RuntimeError
    assert not list((tmp_path / "files").iterdir())
