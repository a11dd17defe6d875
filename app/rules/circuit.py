"""The circuit of the day: a member's machines in order, and which are filmed, done, resting or due."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from app.rules.words import exercise_of

State = Literal["filmed", "done", "due", "resting", "ask", "stopped"]

#: Days from one time on a machine to the next: 48 hours or more for a muscle group, ACSM position
#: stand 2011 (Garber and others, Med Sci Sports Exerc 43:1334; from memory).
REST_DAYS = 2


@dataclass(frozen=True)
class Station:
    """One machine of the circuit. last: the day it was last done, filmed or not; set_id: today's clip."""

    exercise: str
    state: State
    last: date | None = None
    set_id: int | None = None


@dataclass(frozen=True)
class Circuit:
    """stop: pain was told and no trainer has cleared it: then nothing is due."""

    stations: tuple[Station, ...]
    stop: bool = False

    def count(self, *states: State) -> int:
        """How many machines are in one of the states."""
        return sum(s.state in states for s in self.stations)


def machines(own: Sequence[str] | None, cleared: Collection[str], room: Sequence[str]) -> list[str]:
    """The machines of a member's circuit in order: their own, else those of the room.

    A machine that needs the trainer's word is among the room's only once it is given.
    """
    if own is not None:
        return [name for name in own if name in room]
    return [name for name in room if not _needs_word(name, cleared)]


def circuit(
    names: Sequence[str],
    cleared: Collection[str],
    filmed_today: Mapping[str, int],
    done_today: Collection[str],
    last: Mapping[str, date],
    today: date,
    stop: bool,
) -> Circuit:
    """The circuit as it stands. filmed_today: the set sent today by machine; last: by machine."""

    def state(name: str) -> State:
        if name in filmed_today:
            return "filmed"
        if name in done_today:
            return "done"
        if stop:
            return "stopped"
        if _needs_word(name, cleared):
            return "ask"
        before = last.get(name)
        return "resting" if before is not None and 0 <= (today - before).days < REST_DAYS else "due"

    found = [Station(n, state(n), last=last.get(n), set_id=filmed_today.get(n)) for n in names]
    return Circuit(tuple(found), stop)


def _needs_word(name: str, cleared: Collection[str]) -> bool:
    exercise = exercise_of(name)
    return exercise is not None and exercise.needs_clearance and name not in cleared
