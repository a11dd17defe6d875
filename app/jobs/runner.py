"""Takes jobs from the queue and has each clip checked in a process of its own, for as long as it runs."""

from __future__ import annotations

import logging
import threading
import time
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from contextlib import ExitStack

from app.jobs.afar import check_by
from app.jobs.pools import MEMBERS, cluster_pool
from app.jobs.queue import Claimed, claim, give_back
from app.jobs.worker import Check, check_contained, run_with
from app.store.bin import empty_bin
from app.store.database import StoreTrouble, open_database
from app.store.erasing import finish_erasing
from app.store.remote import files_of
from app.store.retention import tidy
from app.store.room import days_kept
from app.store.settings import StoreSettings

#: How long, in s, to wait before looking for new jobs.
LOOK_S = 0.5
#: How often, in s, old clips and leftovers are dropped.
TIDY_S = 3600.0
log = logging.getLogger("plumbset")


class Runner:
    """Takes jobs while there are free workers. A worker is a thread that watches over one process.

    Where the settings name a scheduler, that process is one of its cluster.
    """

    def __init__(self, settings: StoreSettings, workers: int = 1, check: Check | None = None):
        self._settings, self._workers, self._open = settings, workers, ExitStack()
        if check is None and settings.scheduler is not None:
            check = check_by(self._open.enter_context(cluster_pool(settings.scheduler, MEMBERS)))
        self._check = check or check_contained
        self._database = open_database(settings.database_url)
        self._files = files_of(settings)
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="check")
        self._busy: dict[Future[None], Claimed] = {}
        self._stop = threading.Event()
        self._next_tidy = 0.0

    def run(self) -> None:
        """Work until ``stop``; then wait for what is under way. A database that is away is waited for."""
        told = ""
        while not self._stop.is_set():
            try:
                self.step()
                told = ""
            except StoreTrouble as trouble:
                if told != str(trouble):  # once an outage
                    log.warning("The queue waits: %s", trouble)
                told = str(trouble)
            except Exception as error:  # noqa: BLE001 - other clips must not wait for ever; no details in logs
                log.warning("The queue stumbled (%s); trying again.", type(error).__name__)
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
            self._busy[self._pool.submit(run_with, self._database, self._files, job, self._check)] = job
        if time.monotonic() >= self._next_tidy:
            self._next_tidy = time.monotonic() + TIDY_S
            tidy(self._database, self._files, days_kept(self._database, self._settings.keep_clips_days))
            empty_bin(self._database, self._files)
            finish_erasing(self._database, self._files)

    def stop(self) -> None:
        """Ask ``run`` to end; may be called from any thread."""
        self._stop.set()

    def close(self) -> None:
        """Let workers finish and give everything back."""
        self._pool.shutdown(wait=True)
        for future in list(self._busy):
            try:
                self._cleared(future)
            except StoreTrouble:  # its lease will run out
                continue
        self._open.close()
        self._database.close()

    def _cleared(self, future: Future[None]) -> None:
        """Forget a job that is over; one whose end could not be written down is freed for another try."""
        job = self._busy.pop(future)
        error = future.exception()
        if error is not None:
            log.warning("A check ended without a result (%s).", type(error).__name__)
            give_back(self._database, job)
