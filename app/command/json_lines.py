"""``--progress json``: how far a check is, for other programs; one JSON object a line on standard error."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from app.jobs.following import FOLLOWING

if TYPE_CHECKING:
    from shared.report import SetReport
    from vision.telling.first_look import FirstLook

#: A line is written when the share of its stage has grown by this much.
EVERY = 0.01
#: Before this share of a stage nobody can tell how long it takes.
TELLS_FROM = 0.05


class JsonLines:
    """Called as a ``Say``; ``done`` says the last line, which confirms or corrects the first words.

    The fields of a line stand in docs/check.md. clock: the time of the machine, s.
    """

    def __init__(self, write: Callable[[str], None], clock: Callable[[], float] = time.monotonic):
        self._write, self._clock, self._start = write, clock, clock()
        self._stage, self._share, self._since = "", 0.0, self._start
        self._first: FirstLook | None = None
        self._first_step = ""

    def __call__(self, step: str, share: float, first: FirstLook | None = None, /) -> None:
        """Say that so much of a stage is done, and the first words of the set when they come."""
        if first is not None:
            self._first, self._first_step = first, step
        stage = FOLLOWING if step == self._first_step else step
        if stage != self._stage:
            self._stage, self._since = stage, self._clock()
        elif first is None and share < self._share + EVERY:
            return
        self._share = share
        self._line(seconds_left=self._left(), **({} if first is None else {"first": _first(first)}))

    def done(self, report: SetReport) -> None:
        """Say what the careful look found, and whether the first one was right."""
        from vision.telling.first_look import correction

        self._stage, self._share = "Done", 1.0
        words = correction(self._first, report) if self._first is not None else None
        self._line(
            seconds_left=0.0, fit=report.quality.usable, count=report.count,
            first=None if words is None else "corrected" if words else "confirmed", words=words,
        )  # fmt: skip

    def _left(self) -> float | None:
        """Seconds left of the stage at its own pace so far."""
        if self._share < TELLS_FROM:
            return None
        return round((self._clock() - self._since) * (1 - self._share) / self._share, 1)

    def _line(self, **more: Any) -> None:
        at_s = round(self._clock() - self._start, 1)
        self._write(json.dumps({"stage": self._stage, "share": round(self._share, 3), "at_s": at_s} | more))


def _first(look: FirstLook) -> dict[str, Any]:
    """The first words as they are told: fit to judge or not is known by the count."""
    return {"fit": look.count is not None} | asdict(look)
