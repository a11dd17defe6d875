"""Runs functions in a process of its own, held to limits; whatever that dies of becomes one sentence.

What reads strangers' clips is native code: it may crash, hang, ask for all the memory there is, or be taken
over. So nothing it says is trusted: it answers in JSON that must fit what was asked for (``inside.py``).
"""

from __future__ import annotations

import json
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, BinaryIO, Literal, Protocol

from pydantic import Field, TypeAdapter, ValidationError

from app.jobs.held import LIMITS, Limits
from app.jobs.inside import DONE, INPUT, LENGTH, MEMORY, OWN, STEP, TOLD, UNFORESEEN
from shared.errors import InputError, InternalError

if TYPE_CHECKING:
    from vision.telling.first_look import FirstLook

LOOK_S = 0.25
#: A process that was killed is waited for so long, in s; the system lets go of it when it can.
GONE_S = 10.0
#: A process says no more than this in its life, in bytes; the numbers of two hours of clip fit.
MOST_SAID = 64 << 20
OURS = "Checking this clip failed on our side; the clip is kept. Your trainer can have it checked again."
CRASHED = (
    "This clip made the program that reads it crash ({how}); the clip is kept. "
    "Film the set again with the phone's own camera."
)
TOO_LONG = "Checking this clip took too long and was stopped; the clip is kept. Film one set, in 1080p."
TOO_MUCH = (
    "Checking this clip needed more than {mb} MB of memory and was stopped; the clip is kept. "
    "Film the set again in 1080p."
)
KILLED = (
    "The system stopped the check of this clip, most likely for want of memory; the clip is kept. "
    "Your trainer can have it checked again."
)
_TOLD = TypeAdapter(
    tuple[Literal["input", "own", "memory", "unforeseen"], Annotated[str, Field(max_length=4000)]]
)
#: All that a child finds in its environment: where the system's things lie, and how many threads to use.
_NEEDED = (
    "PATH", "TMPDIR", "TEMP", "TMP", "SYSTEMROOT", "LD_LIBRARY_PATH", "OMP_NUM_THREADS",
    "OPENBLAS_NUM_THREADS", "PLUMBSET_DEBUG",
)  # fmt: skip
_CODE = "import json, sys; sys.path[:] = json.loads(sys.argv[1]); from app.jobs.inside import main; main()"


class Say(Protocol):
    """Told which step is under way and its share from 0 to 1; once, of a set, its first words as well."""

    def __call__(self, step: str, share: float, first: FirstLook | None = None, /) -> None:
        """Say it."""


def quiet(step: str, share: float, _: FirstLook | None = None, /) -> None:
    """A ``Say`` for whoever wants to know nothing."""


class Process(Protocol):
    """A process as ``subprocess.Popen`` gives it."""

    pid: int
    stdin: Any
    stdout: Any

    def poll(self) -> int | None:
        """Its exit code, None while it runs."""

    def wait(self, timeout: float | None = None) -> int:
        """Its exit code, negative for a signal; ``subprocess.TimeoutExpired`` after so many s."""


def started(*modules: str) -> Process:
    """A process of the same code, in a session of its own, with an environment that tells it nothing.

    modules: what it loads while nothing is asked of it yet.
    """
    path = [str(Path(place or ".").absolute()) for place in sys.path]
    return subprocess.Popen(
        [sys.executable, "-I", "-X", "utf8", "-c", _CODE, json.dumps(path), *modules],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=None if os.environ.get("PLUMBSET_DEBUG") else subprocess.DEVNULL,
        env={name: os.environ[name] for name in _NEEDED if name in os.environ},
        start_new_session=True,
    )  # fmt: skip


def run_contained(
    function: Callable[..., Any], arguments: tuple[Any, ...], say: Say, answer: Any,
    limits: Limits = LIMITS, start: Callable[[], Process] = started,
) -> Any:  # fmt: skip
    """Call ``function(*arguments, say)`` in a fresh process and return what it returns.

    answer: the type of what comes back, held against it by pydantic. ``say`` is called here; when it
    raises, the process is ended.

    Raises
    ------
    InputError : what the function raised with exit code 2. InternalError : what else it raised with a
        sentence, a crash, a limit that was reached, or an answer that does not fit.
    """
    with Child(start) as child:
        return child.ask(function, arguments, say=say, answer=answer, limits=limits)


class Child:
    """A process that is asked one thing after the other; ``end`` kills it and all it started."""

    _alive: set[Child] = set()  # noqa: RUF012 - of the class, on purpose

    def __init__(self, start: Callable[[], Process] = started):
        self._process = start()
        self._said: queue.SimpleQueue[bytes] = queue.SimpleQueue()
        self._code: int | None = None
        self._ending = threading.Lock()
        Child._alive.add(self)
        threading.Thread(target=_hear, args=(self._process.stdout, self._said), daemon=True).start()

    def __enter__(self) -> Child:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    @classmethod
    def end_all(cls) -> None:
        """End every child of this process."""
        for child in list(cls._alive):
            child.end()

    def ask(
        self, function: Callable[..., Any], arguments: tuple[Any, ...], say: Say, answer: Any, limits: Limits
    ) -> Any:
        """See ``run_contained``; after an InternalError the child is of no more use."""
        question = pickle.dumps((limits, function, arguments))
        threading.Thread(target=_put, args=(self._process.stdin, question), daemon=True).start()
        end = time.monotonic() + limits.wall_s
        while True:
            with suppress(queue.Empty):
                kind, rest = self._next()
                if kind == DONE:
                    return _read(TypeAdapter(answer), rest)
                if kind == STEP:
                    say(*_read(_step(), rest))
                else:
                    raise _refusal(_read(_TOLD, rest if kind == TOLD else b""), limits)
            if time.monotonic() > end:
                raise InternalError(TOO_LONG)
            if resident_mb(self._process.pid) > limits.memory_mb:
                raise InternalError(TOO_MUCH.format(mb=limits.memory_mb))

    def alive(self) -> bool:
        """Whether it can be asked: it may have died while it waited."""
        return self._code is None and self._process.poll() is None

    def _next(self) -> tuple[bytes, bytes]:
        line = self._said.get(timeout=LOOK_S)
        if not line.endswith(b"\n"):
            raise InternalError(_death(self.end()))
        return line[:1], line[1:]

    def end(self) -> int:
        """Kill the process and its group, and tell how it ended."""
        with self._ending:
            if self._code is None:
                _kill(self._process.pid)
                self._code = _exit_code(self._process)
                with suppress(OSError, ValueError):
                    self._process.stdin.close()
                Child._alive.discard(self)
        return self._code


def _kill(pid: int) -> None:
    """Kill a process and its group, which it may not have yet."""
    if sys.platform == "win32":
        with suppress(ProcessLookupError, PermissionError):
            os.kill(pid, signal.SIGTERM)
        return
    for kill in (os.killpg, os.kill):
        with suppress(ProcessLookupError, PermissionError):
            kill(pid, signal.SIGKILL)


def _exit_code(process: Process) -> int:
    try:
        return process.wait(GONE_S)
    except subprocess.TimeoutExpired:
        return -signal.SIGKILL


def _put(stream: BinaryIO, question: bytes) -> None:
    """Ask, without waiting for a child that does not listen."""
    with suppress(OSError, ValueError):
        stream.write(LENGTH.pack(len(question)) + question)
        stream.flush()


def _hear(stream: BinaryIO, said: queue.SimpleQueue[bytes]) -> None:
    """Put what is said down line by line; an empty one is the end, and so is one too much."""
    left = MOST_SAID
    with suppress(OSError, ValueError), stream:
        while left > 0 and (line := stream.readline(left)):
            left -= len(line)
            said.put(line)
    said.put(b"")


@cache
def _step() -> TypeAdapter[Any]:
    """The form of a step; its imports take time that a child should not wait for."""
    from vision.telling.first_look import FirstLook

    name, share = Annotated[str, Field(max_length=80)], Annotated[float, Field(ge=0, le=1)]
    return TypeAdapter(tuple[name, share, FirstLook | None])  # type: ignore[valid-type]


def _read(form: TypeAdapter[Any], said: bytes) -> Any:
    try:
        return form.validate_json(said)
    except ValidationError:
        raise InternalError(OURS) from None


def _refusal(told: tuple[str, str], limits: Limits) -> InputError | InternalError:
    kind, sentence = told
    if kind == INPUT:
        return InputError(sentence)
    said = {OWN: sentence, MEMORY: TOO_MUCH.format(mb=limits.address_mb), UNFORESEEN: OURS}
    return InternalError(said[kind])


def _death(code: int) -> str:
    if code >= 0:
        return OURS
    name = signal.Signals(-code).name
    if name in ("SIGXCPU", "SIGALRM"):
        return TOO_LONG
    return KILLED if name == "SIGKILL" else CRASHED.format(how=name)


def resident_mb(pid: int | None) -> float:
    """Resident memory of a process in MB; 0 where the system does not tell."""
    try:
        pages = int(Path(f"/proc/{pid}/statm").read_text(encoding="ascii").split()[1])
    except (OSError, ValueError, IndexError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
