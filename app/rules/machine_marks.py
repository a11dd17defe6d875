"""Points on a machine: what a trainer may point at, and which of an earlier clip's may hold for a new one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from shared.errors import UsageError
from shared.exercise import Exercise
from vision.seeing.marks import MarkPoint

if TYPE_CHECKING:
    from shared.report import SetReport
    from vision.seeing.marks import MarkName

#: What is pointed at, in words and in the order in which it is asked; the knee is the member's own.
WORDS: Mapping[MarkName, str] = {
    "pad": "Back pad: lower end of its front",
    "pad_end": "Back pad: upper end of its front",
    "seat": "Seat: lower corner of its front edge",
    "pivot": "Machine's axis",
    "knee": "Knee: outer side, where it turns",
    "stack": "Plates that rise: a plain edge",
}
#: A point that says nothing without the other one.
WITH: Mapping[MarkName, MarkName] = {"pad": "pad_end", "pad_end": "pad", "knee": "pivot"}
NOT_FIT = "These marks do not fit this machine or this picture; point at its parts anew."


def asked_marks(exercise: Exercise) -> dict[MarkName, str]:
    """What a trainer may point at on a machine, in words."""
    from vision.judging.bind import wanted_marks  # all that judges: the page loads it where it marks alone

    wanted = {*wanted_marks(exercise), "stack"}
    return {name: words for name, words in WORDS.items() if name in wanted or WITH.get(name) in wanted}


def sound_marks(
    points: Sequence[Mapping[str, Any]], exercise: Exercise, size: tuple[int, int], duration_s: float
) -> list[MarkPoint]:
    """The points, each once and within a clip; UsageError where they cannot be used.

    size: width and height of the upright picture.
    """
    asked = asked_marks(exercise)
    try:
        found = [
            MarkPoint(p["name"], float(p["x"]), y=float(p["y"]), time_s=float(p["time_s"])) for p in points
        ]
    except (KeyError, TypeError, ValueError) as error:
        raise UsageError(NOT_FIT) from error
    names = [p.name for p in found]
    inside = all(0 <= p.x < size[0] and 0 <= p.y < size[1] and 0 <= p.time_s <= duration_s for p in found)
    complete = all(WITH[name] in names for name in names if name in WITH)
    if not (found and inside and complete and len(set(names)) == len(names) and set(names) <= set(asked)):
        raise UsageError(NOT_FIT)
    return found


def from_board(report: SetReport) -> dict[str, str]:
    """Parts whose marks a check took from the frame board, in words."""
    marks = report.machine.marks if report.machine is not None else []
    taken = {mark.name for mark in marks if mark.board_half_cm is not None}
    return {name: words for name, words in WORDS.items() if name in taken}


def of_the_machine(points: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """What may hold for another clip: all but the knee, at its beginning, when the plates rest."""
    return [{**p, "time_s": 0.0} for p in points if p["name"] != "knee"]
