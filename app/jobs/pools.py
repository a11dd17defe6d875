"""Where clips are checked: on this machine, or by the workers of a cluster; both are standard executors."""

from __future__ import annotations

import logging
import threading
from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from importlib import import_module
from typing import Any

from app.jobs.contained import Child
from app.reading.failures import missing_extra
from shared.errors import UsageError

#: How long, in s, a scheduler may take to answer.
ANSWER_S = 30


class LocalPool(ThreadPoolExecutor):
    """Threads, each of which watches over one contained process at a time: the processes do the work."""

    NAME = "clip"

    def __init__(self, workers: int):
        super().__init__(workers, thread_name_prefix=self.NAME)

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        """Wait for all; or, without ``wait``, end what is under way, as a cluster's executor does."""
        super().shutdown(wait=wait, cancel_futures=cancel_futures or not wait)
        while not wait and (busy := [t for t in threading.enumerate() if t.name.startswith(self.NAME)]):
            Child.end_all()
            busy[0].join(0.1)


@contextmanager
def local_pool(workers: int) -> Iterator[Executor]:
    """A pool on this machine."""
    with LocalPool(workers) as pool:
        yield pool


@contextmanager
def cluster_pool(address: str) -> Iterator[Executor]:
    """The workers of an existing Dask cluster.

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
        yield client.get_executor(pure=False)
    finally:
        client.close()


def _quiet(*packages: str) -> None:
    """A cluster that is lost is told by the clips it cost, not by pages of its libraries' logs."""
    for name in (*packages, *logging.root.manager.loggerDict):
        if name.partition(".")[0] in packages:
            logging.getLogger(name).setLevel(logging.CRITICAL)
