"""A function in a process of its own: whatever that dies of becomes one sentence, and nothing else dies."""

from __future__ import annotations

import ctypes
import os
import pickle
import select
import signal
import socket
import stat
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest

from app.jobs import contained, netless
from app.jobs.contained import OURS, Child, Say, run_contained
from app.jobs.held import Limits
from app.jobs.left import own
from app.jobs.queue import JobLost
from app.store.files import Files
from shared.errors import ClipError, DefinitionError, InputError, InternalError, PlumbsetError

SMALL = Limits(wall_s=120, cpu_s=60)


def _quiet(step: str, share: float, first: object = None) -> None:
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


def _is_asked_to_end(say: Say) -> int:
    os.kill(os.getpid(), signal.SIGTERM)
    return 1


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
    said: list[tuple[object, ...]] = []
    assert run_contained(_adds, (2, 3), lambda *s: said.append(s), int, SMALL) == 5
    assert said == [("Adding", 0.5, None)]


@pytest.mark.parametrize(
    ("function", "limits", "sentence"),
    [
        (_crashes, SMALL, "crash .SIG(SEGV|BUS)."),
        (_leaves, SMALL, "failed on our side"),
        (_is_killed, SMALL, "want of memory"),
        (_hangs, Limits(wall_s=0.5), "took too long"),
        (_burns, Limits(wall_s=120, cpu_s=1), "took too long"),
        (_grows, Limits(wall_s=120, memory_mb=300), "more than 300 MB"),
        (_asks_for_all, SMALL, f"more than {SMALL.address_mb} MB"),
    ],
)
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="needs Linux to see memory and signals")
def test_whatever_it_dies_of_is_one_sentence(function: Any, limits: Limits, sentence: str) -> None:
    with pytest.raises(InternalError, match=sentence) as told:
        run_contained(function, (), _quiet, None, limits)
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
        run_contained(_raises, (error, given), _quiet, None, SMALL)
    assert str(told.value) == sentence


def test_it_is_ended_when_nobody_wants_the_answer_any_more() -> None:
    def lost(step: str, share: float, first: object = None) -> None:
        raise JobLost

    with pytest.raises(JobLost):
        run_contained(_adds, (2, 3), lost, int, SMALL)


def test_a_system_that_stops_all_processes_at_once_is_no_crash_of_the_clip() -> None:
    """Then whoever asks ends as well, and the clip is taken up again."""
    assert run_contained(_is_asked_to_end, (), _quiet, int, SMALL) == 1


def test_others_go_on_beside_one_that_crashes() -> None:
    results: list[Any] = []

    def work() -> None:
        results.append(run_contained(_adds, (1, 1), _quiet, int, SMALL))

    beside = threading.Thread(target=work)
    beside.start()
    with pytest.raises(InternalError):
        run_contained(_crashes, (), _quiet, None, SMALL)
    beside.join()
    assert results == [2]


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="needs Linux to wait for a process of another")
def test_it_ends_with_the_process_that_started_it() -> None:
    code = (
        "import os\nfrom app.jobs.contained import run_contained\n"
        "from tests.store.test_contained import _says_its_number\n"
        "if __name__ == '__main__':\n"
        "    run_contained(_says_its_number, (), lambda step, *_: print(step, flush=True), None)\n"
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


def _looks_about(say: Say) -> str:
    return Path("/proc/self/environ").read_text(encoding="utf-8")


@pytest.mark.skipif(sys.platform != "linux", reason="needs Linux to see what a process was given")
def test_it_finds_no_secret_in_its_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PLUMBSET_DATABASE_URL", "postgresql://a:secret@b/c")
    found = run_contained(_looks_about, (), _quiet, str, SMALL)
    assert "secret" not in found and "PLUMBSET" not in found and "HOME=" not in found


def _reaches_out(say: Say) -> dict[str, str]:
    ways: dict[str, Any] = {
        "network": socket.socket, "this machine": lambda: socket.socket(socket.AF_UNIX), "fork": os.fork,
        "program": lambda: os.execv("/bin/true", ["true"]), "a process": lambda: os.kill(os.getppid(), 0),
        "session": os.setsid, "thread": lambda: threading.Thread(target=int).start(),
    }  # fmt: skip
    found = {}
    for name, way in ways.items():
        try:
            way()
            found[name] = "open"
        except OSError as error:
            found[name] = os.strerror(error.errno or 0)
    return found


@pytest.mark.skipif(not netless.has_filter(), reason="needs libseccomp2: apt-get install libseccomp2")
def test_it_reaches_no_network_no_program_and_no_other_process() -> None:
    found = run_contained(_reaches_out, (), _quiet, dict[str, str], SMALL)
    assert found.pop("thread") == "open" and set(found.values()) == {"Operation not permitted"}


@pytest.mark.skipif(sys.platform != "linux", reason="needs Linux")
def test_without_the_filter_a_network_of_its_own_is_empty() -> None:
    code = (
        "import socket, sys\nfrom app.jobs.netless import unshared\n"
        "if not unshared(): sys.exit('may not')\n"
        "try: socket.create_connection(('127.0.0.1', int(sys.argv[1])))\n"
        "except OSError as error: print(error.strerror)\n"
    )
    with socket.create_server(("127.0.0.1", 0)) as listening:
        command = [sys.executable, "-c", code, str(listening.getsockname()[1])]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.stderr == "may not\n":
        pytest.skip("this system lets nobody make a network namespace")
    assert done.stdout == "Network is unreachable\n"


class _Trap:
    def __reduce__(self) -> tuple[Any, ...]:
        return os.mkdir, ("trapped",)


def _speaks(raw: bytes, say: Say) -> None:
    for number in range(3, 64):  # the answers go out through one of these
        try:
            if stat.S_ISFIFO(os.fstat(number).st_mode):
                os.write(number, raw)
        except OSError:
            continue
    threading.Event().wait()


@pytest.mark.skipif(sys.platform == "win32", reason="looks for a pipe")
@pytest.mark.parametrize(
    "raw",
    [pickle.dumps(_Trap()) + b"\n", b'D{"a": 1}\n', b'D"two"\n', b"D2", b'S["' + b"x" * 81 + b'", 1, null]\n',
     b'S["Following", 7, null]\n', b'S["Following", 1, {"count": "x"}]\nD1\n', b'T["trap", ""]\n', b"X1\n",
     b"\n", b"D1e999\n"],
    ids=range(11),
)  # fmt: skip
def test_what_does_not_fit_is_no_answer_and_nothing_is_run(
    raw: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    limits = Limits(wall_s=1.0 if raw == b"D2" else 60.0)
    with pytest.raises(InternalError, match=r"on our side|took too long"):
        run_contained(_speaks, (raw,), _quiet, int, limits)
    assert not list(tmp_path.iterdir())


def _writes_much(place: str, say: Say) -> None:
    Path(place).write_bytes(bytes(2_000_001))


def test_no_file_grows_beyond_its_limit(tmp_path: Path) -> None:
    with pytest.raises(InternalError):
        run_contained(_writes_much, (str(tmp_path / "x"),), _quiet, None, Limits(wall_s=60, file_mb=2))
    assert (tmp_path / "x").stat().st_size <= 2_000_000


def test_a_child_that_has_no_group_of_its_own_yet_is_ended_and_not_waited_for() -> None:
    command = [sys.executable, "-c", "input()"]
    child = Child(lambda: subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE))
    assert child.end() == -signal.SIGKILL


def test_whether_a_child_that_waits_can_still_be_asked() -> None:
    process = subprocess.Popen(
        [sys.executable, "-c", "input()"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    )
    child = Child(lambda: process)
    assert child.alive()
    process.kill()
    process.wait()
    assert not child.alive()
    child.end()
    assert not child.alive()


def test_a_child_that_the_system_does_not_let_go_of_holds_nobody_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(contained, "GONE_S", 0.0)
    monkeypatch.setattr(contained, "_kill", lambda pid: None)
    command = [sys.executable, "-c", "input()"]
    process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    try:
        assert Child(lambda: process).end() == -signal.SIGKILL
    finally:
        process.kill()
        process.wait()


@pytest.mark.parametrize("way", ["link", "hard link", "folder", "through a link"])
def test_what_is_no_file_of_its_own_is_not_taken(tmp_path: Path, way: str) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "others").mkdir()
    other, place = tmp_path / "others" / "drawn", tmp_path / "out" / "drawn"
    other.write_bytes(b"of another")
    if way == "link":
        place.symlink_to(other)
    elif way == "hard link":
        place.hardlink_to(other)
    elif way == "folder":
        place.mkdir()
    else:
        (tmp_path / "out").rmdir()
        (tmp_path / "out").symlink_to(tmp_path / "others")
    with pytest.raises(InternalError):
        own(tmp_path / "out", "drawn")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "drawn").write_bytes(b"x")
    assert own(tmp_path / "mine", "drawn").read_bytes() == b"x"
