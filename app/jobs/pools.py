"""Where clips are checked: on this machine, or by the workers of a cluster; both are standard executors."""

from __future__ import annotations

import logging
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from typing import Any, ParamSpec, TypeVar

from app.jobs.behind import members_first
from app.jobs.contained import Child
from app.reading.failures import missing_extra
from app.store.settings import store_settings
from shared.errors import UsageError

#: How long, in s, a scheduler may take to answer.
ANSWER_S = 30
#: How often, in s, a task that is held asks again.
HELD_S = 2.0
#: What a batch takes of a busy core is about a tenth of what a member's clip takes.
NICE = 10
#: Of clips that members sent to the page, on a cluster; batches have 0.
MEMBERS = 10
P = ParamSpec("P")
T = TypeVar("T")


class LocalPool(ThreadPoolExecutor):
    """Threads, each of which watches over one contained process at a time: the processes do the work.

    They give way to whatever else the machine has to do. held: asked before each task is begun; while it
    says so, the task waits.
    """

    NAME = "clip"

    def __init__(self, workers: int, held: Callable[[], bool] = lambda: False):
        super().__init__(workers, thread_name_prefix=self.NAME, initializer=give_way)
        self._held, self._over = held, threading.Event()

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Run a task in its turn, and not before others have gone first."""

        def in_turn() -> T:
            while self._held() and not self._over.wait(HELD_S):
                pass
            return fn(*args, **kwargs)

        return super().submit(in_turn)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Wait for all; or, without ``wait``, end what is under way, as a cluster's executor does."""
        if not wait:
            self._over.set()
        super().shutdown(wait=wait, cancel_futures=cancel_futures or not wait)
        while not wait and (busy := [t for t in threading.enumerate() if t.name.startswith(self.NAME)]):
            Child.end_all()
            busy[0].join(0.1)


def give_way() -> None:
    """Have this thread, and the processes that it starts, come after others on a busy core."""
    if hasattr(os, "nice"):
        os.nice(NICE)


@contextmanager
def local_pool(workers: int) -> Iterator[Executor]:
    """A pool on this machine, where a studio's page may have clips of its own checked."""
    with members_first(store_settings()) as wait, LocalPool(workers, wait) as pool:
        yield pool


@contextmanager
def cluster_pool(address: str, priority: int = 0) -> Iterator[Executor]:
    """The workers of an existing Dask cluster; of what waits there the highest priority is begun first.

    Raises
    ------
    UsageError : the package is missing, or no scheduler answers at the address.
    """
    try:
        distributed: Any = import_module("distributed")
    except ModuleNotFoundError as error:
        raise missing_extra("distributed") from error
    _quiet("distributed", "tornado")
    try:
        client = distributed.Client(address, timeout=ANSWER_S, set_as_default=False)
    except (OSError, ValueError) as error:
        raise UsageError(
            f"No scheduler answers at {address!r} ({type(error).__name__}); check it, such as tcp://host:8786."
        ) from error
    try:
        executor = client.get_executor(pure=False)
        executor.submit = partial(executor.submit, priority=priority)
        yield executor
    finally:
        client.close()


def _quiet(*packages: str) -> None:
    """A cluster that is lost is told by the clips it cost, not by pages of its libraries' logs."""
    for name in (*packages, *logging.root.manager.loggerDict):
        if name.partition(".")[0] in packages:
            logging.getLogger(name).setLevel(logging.CRITICAL)
