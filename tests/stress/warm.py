"""Contained processes forked from a warm one, in which all that is heavy is loaded: for very many of them."""

from __future__ import annotations

import multiprocessing
import os
import subprocess
from collections.abc import Callable, Sequence
from typing import Any

from app.jobs.contained import Process
from app.jobs.inside import serve
from app.jobs.netless import close_network


def warm(preload: Sequence[str], method: str = "forkserver") -> Callable[[], Process]:
    """Give ``run_contained`` its processes by that start method of multiprocessing."""
    if method == "forkserver":
        multiprocessing.set_forkserver_preload(list(preload))
    return lambda: _Forked(method)


class _Forked:
    """As ``subprocess.Popen`` has it."""

    def __init__(self, method: str):
        context: Any = multiprocessing.get_context(method)
        theirs, ours = context.Pipe(duplex=False)
        heard, told = context.Pipe(duplex=False)
        self._child = context.Process(target=_serve, args=(theirs, told, (ours, heard)), daemon=True)
        self._child.start()
        for end in (theirs, told):
            end.close()
        self.pid = self._child.pid
        self.stdin, self.stdout = (
            os.fdopen(os.dup(ours.fileno()), "wb"),
            os.fdopen(os.dup(heard.fileno()), "rb"),
        )
        for end in (ours, heard):
            end.close()

    def poll(self) -> int | None:
        return self._child.exitcode

    def wait(self, timeout: float | None = None) -> int:
        self._child.join(timeout)
        if self._child.exitcode is None:
            raise subprocess.TimeoutExpired("a warm child", timeout or 0.0)
        return self._child.exitcode


def _serve(asked: Any, answers: Any, others: tuple[Any, ...]) -> None:
    for end in others:  # of the one who asks: while they are open here, its end is not heard
        end.close()
    os.setsid()
    close_network()
    serve(os.fdopen(asked.fileno(), "rb"), os.fdopen(answers.fileno(), "wb", buffering=0))
