"""Clips that people sent to the page, checked by the workers of a cluster instead of on this machine."""

from __future__ import annotations

from concurrent.futures import CancelledError, Executor, wait
from pathlib import Path

from app.jobs.contained import Say, quiet
from app.jobs.queue import Claimed, Outcome
from app.jobs.worker import Check, check_contained
from app.store.files import Files
from shared.errors import InternalError

BEAT_S = 1.0
AFAR = "Being checked on another machine"
LOST = (
    "The machine that checked this clip went away; the clip is kept. Your trainer can have it checked again."
)


def check_by(executor: Executor) -> Check:
    """A check that hands clips to an executor, whose workers must reach the store's files as we do."""

    def check(job: Claimed, files: Files, folder: Path, say: Say) -> Outcome:
        future = executor.submit(check_there, job, files)
        try:
            while not future.done():
                say(AFAR, 0.1)
                wait([future], BEAT_S)
            return future.result()
        except CancelledError as error:
            raise InternalError(LOST) from error
        finally:
            future.cancel()

    return check


def check_there(job: Claimed, files: Files) -> Outcome:
    """Check a clip where this runs, in a process of its own."""
    with files.work() as folder:
        return check_contained(job, files, folder, quiet)
