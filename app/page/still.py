"""A still before the set, judged in a process of its own: there the landmark model stays loaded."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from app.jobs.contained import Child, Say, quiet
from app.jobs.held import Limits
from shared.errors import InternalError, PlumbsetError
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


def look(picture: bytes, exercise: str, say: Say) -> list[str]:
    """See ``problems_of``: what the process of the stills is asked."""
    return problems_of(picture, exercise)


def card_in(picture: bytes, say: Say) -> int | None:
    """The number of the one member's card that a picture shows: what the process of the stills is asked.

    Raises
    ------
    ClipError : it is no picture that can be read.
    """
    import cv2
    import numpy as np

    from shared.domain import Frame
    from vision.framing import read_picture
    from vision.seeing.member_cards import SURE, shown_card

    grey = np.asarray(cv2.cvtColor(read_picture(picture), cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    return shown_card([Frame(0, 0.0, grey)] * SURE)


@lru_cache(maxsize=1)
def _pose() -> MediaPipePose:
    from vision.seeing.pose_mediapipe import MediaPipePose

    return MediaPipePose(None)


def get_ready(say: Say) -> None:
    """Load all that the first picture would have to wait for."""
    import numpy as np

    from shared.domain import Frame
    from vision import framing  # noqa: F401
    from vision.seeing import member_cards  # noqa: F401

    _pose().survey([Frame(0, 0.0, np.full((64, 64, 3), 128, dtype=np.uint8))], 1)


class Stills:
    """Hands pictures to the one process that looks at them; one that died or hangs is replaced."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._child: Child | None = None

    def warm(self) -> None:
        """Start the process, so that the first picture need not wait for it."""
        if self._child is None:
            threading.Thread(target=self._warm, daemon=True).start()

    def _warm(self) -> None:
        with suppress(PlumbsetError):
            self._ask(get_ready, (), None)

    def look(self, picture: bytes, exercise: str) -> list[str]:
        """See ``problems_of``.

        Raises
        ------
        InputError : it is no picture that can be read. InternalError : the process does not answer.
        """
        found: list[str] = self._ask(look, (picture, exercise), list[str])
        return found

    def card(self, picture: bytes) -> int | None:
        """See ``card_in``; raises as ``look`` does. Whoever asks wants the same card in two pictures."""
        number: int | None = self._ask(card_in, (picture,), int | None)
        return number

    def _ask(self, function: Callable[..., Any], arguments: tuple[Any, ...], answer: Any) -> Any:
        if not self._turn.acquire(timeout=LONGEST_S):
            raise InternalError(NOT_NOW)
        try:
            self._child = self._child or Child()
            limits = Limits(wall_s=LONGEST_S)
            return self._child.ask(function, arguments, quiet, answer, limits)
        except InternalError as error:
            if self._child is not None:
                self._child.end()
            self._child = None
            raise InternalError(NOT_NOW) from error
        finally:
            self._turn.release()


@lru_cache(maxsize=1)
def stills() -> Stills:
    """The one of this process."""
    return Stills()
