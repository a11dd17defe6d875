"""Hands jobs to worker processes, through the standard ``Executor`` interface, for as long as it runs."""

from __future__ import annotations

import multiprocessing.connection
import os
import threading
from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait

from app.jobs.queue import Claimed, claim, give_back
from app.jobs.worker import run_job
from app.store.database import open_database
from app.store.settings import StoreSettings

#: How long, in s, to wait before looking for new jobs.
LOOK_S = 0.5
#: A worker process is replaced after so many clips, so that its memory cannot grow.
CLIPS_A_PROCESS = 20


def processes(workers: int) -> Callable[[], Executor]:
    """Makes pools of so many worker processes, each started afresh."""

    def make() -> Executor:
        return ProcessPoolExecutor(
            workers, mp_context=multiprocessing.get_context("spawn"), initializer=end_with_parent,
            max_tasks_per_child=CLIPS_A_PROCESS,
        )  # fmt: skip

    return make


def end_with_parent() -> None:
    """Let a worker process stop when the one that started it is gone, also in the middle of a clip."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_wait_for_end, args=(parent.sentinel,), daemon=True).start()


def _wait_for_end(sentinel: int) -> None:
    multiprocessing.connection.wait([sentinel])
    os._exit(1)


class Runner:
    """Takes jobs from the queue while there are free workers; a pool whose process died is replaced."""

    def __init__(self, settings: StoreSettings, workers: int = 1, make: Callable[[], Executor] | None = None):
        self._settings, self._workers = settings, workers
        self._make = make or processes(workers)
        self._database = open_database(settings.database_url)
        self._executor: Executor | None = None
        self._busy: dict[Future[None], Claimed] = {}
        self._stop = threading.Event()

    def run(self) -> None:
        """Work until ``stop``; then wait for what is under way."""
        while not self._stop.is_set():
            self.step()
            if self._busy:
                wait(self._busy, timeout=LOOK_S, return_when=FIRST_COMPLETED)
            else:
                self._stop.wait(LOOK_S)
        self.close()

    def step(self) -> None:
        """Clear away what is done and hand out what waits, once."""
        for future in [f for f in self._busy if f.done()]:
            self._cleared(future)
        while len(self._busy) < self._workers and (job := claim(self._database)) is not None:
            try:
                self._busy[self._pool().submit(run_job, self._settings, job)] = job
            except BrokenExecutor:
                self._drop_pool()
                give_back(self._database, job)

    def stop(self) -> None:
        """Ask ``run`` to end; may be called from any thread."""
        self._stop.set()

    def close(self) -> None:
        """Let workers finish and give everything back."""
        if self._executor is not None:
            self._executor.shutdown(wait=True, cancel_futures=True)
        for future in list(self._busy):
            self._cleared(future)
        self._database.close()

    def _cleared(self, future: Future[None]) -> None:
        job = self._busy.pop(future)
        if future.cancelled() or future.exception() is not None:
            if not future.cancelled() and isinstance(future.exception(), BrokenExecutor):
                self._drop_pool()
            give_back(self._database, job)

    def _pool(self) -> Executor:
        if self._executor is None:
            self._executor = self._make()
        return self._executor

    def _drop_pool(self) -> None:
        if self._executor is not None:
            self._executor.shutdown(wait=False, cancel_futures=True)
            self._executor = None
