"""Runs one function in a process of its own, held to limits; whatever that dies of becomes one sentence.

What reads strangers' clips is native code: it may crash, hang or ask for all the memory there is.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing import connection, resource_tracker
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from shared.errors import InputError, InternalError, PlumbsetError

LOOK_S = 0.25
Say = Callable[[str, float], None]


@dataclass(frozen=True)
class Limits:
    """What one clip may cost.

    wall_s, cpu_s: seconds of the clock and of all cores together. memory_mb: resident memory, watched
    from outside where /proc tells it. address_mb: address space, so that one absurd request fails at
    once; the landmark model itself maps 1.6 GB on two cores, more on many.
    """

    wall_s: float = 1800.0
    cpu_s: int = 7200
    memory_mb: int = 4000
    address_mb: int = 24_000


LIMITS = Limits()
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


def run_contained(
    function: Callable[..., Any], arguments: tuple[Any, ...], say: Say, limits: Limits = LIMITS,
    start: str = "spawn",
) -> Any:  # fmt: skip
    """Call ``function(*arguments, say)`` in a fresh process and return what it returns.

    Function, arguments and result go by pickle; ``start`` is the start method of multiprocessing.
    ``say`` is called here; when it raises, the process is ended.

    Raises
    ------
    InputError : what the function raised with exit code 2. InternalError : what else it raised with a
        sentence, a crash, or a limit that was reached.
    """
    context = multiprocessing.get_context(start)
    receiver, sender = context.Pipe(duplex=False)
    child = context.Process(  # type: ignore[attr-defined]
        target=_inside, args=(sender, limits, function, arguments), daemon=True
    )
    _start(child)
    sender.close()
    try:
        return _follow(child, receiver, say=say, limits=limits)
    finally:
        child.kill()
        child.join()
        child.close()
        receiver.close()


def _start(child: BaseProcess) -> None:
    """Start a process that Ctrl+C at the terminal does not reach: who watches over it ends it.

    A worker of a cluster is often a daemon of the one that keeps it, which may have no children; ours
    end with it all the same.
    """
    multiprocessing.current_process().daemon = False
    if not hasattr(signal, "pthread_sigmask"):
        child.start()
        return
    resource_tracker.ensure_running()  # its start would let the signal through again
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        child.start()
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _follow(child: BaseProcess, receiver: Connection, say: Say, limits: Limits) -> Any:
    end = time.monotonic() + limits.wall_s
    while True:
        if receiver.poll(LOOK_S):
            try:
                kind, *said = receiver.recv()
            except (EOFError, OSError):
                raise InternalError(_death(child)) from None
            if kind == "said":
                say(*said)
            elif kind == "done":
                return said[0]
            else:
                raise said[0](said[1])
        if time.monotonic() > end:
            raise InternalError(TOO_LONG)
        if resident_mb(child.pid) > limits.memory_mb:
            raise InternalError(TOO_MUCH.format(mb=limits.memory_mb))


def _death(child: BaseProcess) -> str:
    child.join(5)
    code = child.exitcode or 0
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


def _inside(
    sender: Connection, limits: Limits, function: Callable[..., Any], arguments: tuple[Any, ...]
) -> None:
    end_with_parent()
    hold(limits)
    answer: tuple[Any, ...]
    try:
        answer = ("done", function(*arguments, lambda step, share: sender.send(("said", step, share))))
    except PlumbsetError as error:
        answer = (
            "told",
            InputError if error.exit_code == InputError.exit_code else InternalError,
            str(error),
        )
    except MemoryError:
        answer = ("told", InternalError, TOO_MUCH.format(mb=limits.address_mb))
    except Exception:  # noqa: BLE001 - the set must not wait for ever, and no detail may leak
        if os.environ.get("PLUMBSET_DEBUG"):
            traceback.print_exc()
        answer = ("told", InternalError, OURS)
    sender.send(answer)
    sender.close()


def hold(limits: Limits) -> None:
    """Set this process's own limits, where the system has them; they hold inside native code too."""
    if sys.platform == "win32":
        return
    import resource

    end_in(int(limits.wall_s) + 60)  # should whoever watches be gone
    wanted = {
        resource.RLIMIT_CPU: (limits.cpu_s, limits.cpu_s + 5),
        resource.RLIMIT_AS: (limits.address_mb * 1_000_000,) * 2,
        resource.RLIMIT_CORE: (0, 0),
    }
    for which, (soft, hard) in wanted.items():
        most = resource.getrlimit(which)[1]
        if most != resource.RLIM_INFINITY:
            soft, hard = min(soft, most), min(hard, most)
        try:
            resource.setrlimit(which, (soft, hard))
        except (OSError, ValueError):  # some systems know a limit but do not let it be set
            continue


def end_in(seconds: int) -> None:
    """Have this process end after so many seconds, also inside native code; 0 takes it back."""
    if sys.platform != "win32":
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(seconds)


def end_with_parent() -> None:
    """Let this process stop when the one that started it is gone, also in the middle of a clip."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_wait_for_end, args=(parent.sentinel,), daemon=True).start()


def _wait_for_end(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)
