"""A still before the set, judged in a process of its own: there the landmark model stays loaded."""

from __future__ import annotations

import multiprocessing
import threading
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor
from functools import lru_cache
from typing import TYPE_CHECKING

from app.jobs.contained import Limits, end_in, end_with_parent, hold
from shared.errors import InternalError
from shared.exercise import find_exercise

if TYPE_CHECKING:
    from vision.seeing.pose_mediapipe import MediaPipePose

KINDS = ["jpg", "jpeg", "png", "webp"]
LARGEST_MB = 40
#: So long, in s, a page waits for an answer.
LONGEST_S = 30.0
NOT_NOW = "The picture could not be looked at just now; film as drawn, the clip itself is checked anyway."
ONE_MOMENT = (
    "One picture shows one moment: the moving limb must stay in the picture at the other end too, "
    "and nobody may walk between."
)


def problems_of(picture: bytes, exercise: str) -> list[str]:
    """What stands against filming like this, in sentences; empty when the framing will do.

    Loads the landmark model: for the process of the stills, and for commands.

    Raises
    ------
    ClipError : it is no picture that can be read.
    """
    from vision.framing import framing_problems, read_picture

    found = framing_problems(read_picture(picture), find_exercise(exercise), _pose())
    return [problem.text for problem in found]


def problems_in_time(picture: bytes, exercise: str) -> list[str]:
    """See ``problems_of``; the process ends when the page has long given up waiting."""
    end_in(int(LONGEST_S) + 5)
    try:
        return problems_of(picture, exercise)
    finally:
        end_in(0)


@lru_cache(maxsize=1)
def _pose() -> MediaPipePose:
    from vision.seeing.pose_mediapipe import MediaPipePose

    return MediaPipePose(None)


def _get_ready() -> None:
    """Load all that the first picture would have to wait for."""
    import numpy as np

    from shared.domain import Frame

    end_with_parent()
    hold(Limits())
    end_in(0)
    _pose().survey([Frame(0, 0.0, np.full((64, 64, 3), 128, dtype=np.uint8))], 1)


def _new_pool() -> Executor:
    spawn = multiprocessing.get_context("spawn")
    return ProcessPoolExecutor(1, mp_context=spawn, initializer=_get_ready)


class Stills:
    """Hands pictures to the one process that looks at them; one that died is replaced."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._pool: Executor | None = None

    def warm(self) -> None:
        """Start the process, so that the first picture need not wait for it."""
        with self._lock:
            if self._pool is None:
                self._pool = _new_pool()
                self._pool.submit(int)

    def look(self, picture: bytes, exercise: str) -> list[str]:
        """See ``problems_of``.

        Raises
        ------
        ClipError : it is no picture that can be read. InternalError : the process does not answer.
        """
        self.warm()
        pool = self._pool
        try:
            if pool is None:
                raise InternalError(NOT_NOW)
            answer: Future[list[str]] = pool.submit(problems_in_time, picture, exercise)
            return answer.result(LONGEST_S)
        except (BrokenExecutor, TimeoutError) as error:
            with self._lock:
                if self._pool is pool:
                    self._pool = None
            if pool is not None:
                pool.shutdown(wait=False, cancel_futures=True)
            raise InternalError(NOT_NOW) from error


@lru_cache(maxsize=1)
def stills() -> Stills:
    """The one of this process."""
    return Stills()
