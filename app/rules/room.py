"""What a studio says of its room: which machines stand there, and the units that people read."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from app.rules.history import KG_PER_LB
from app.rules.words import exercise_of, load_words
from shared.exercise import circuit_order, exercise_names

Weight = Literal["kg", "lb"]
Length = Literal["cm", "ft"]
WEIGHTS: tuple[Weight, ...] = ("kg", "lb")
LENGTHS: tuple[Length, ...] = ("cm", "ft")
CM_PER_IN = 2.54
IN_PER_FT = 12
_NUMBER = r"\d+(?:\.\d+)?"
#: A length as the tool says it, with whatever is said of it in the same unit without naming that again.
_IN_CM = re.compile(
    rf"(?:give or take {_NUMBER}\): )?(?:{_NUMBER} to )?{_NUMBER} cm\b"
    rf"(?: now and {_NUMBER} then)?(?:,? \(?give or take (?:less than )?{_NUMBER})?"
)

#: What a report calls the fields that hold a file's name.
_FILES = ("file", "clip")


@dataclass(frozen=True)
class Room:
    """machines: in the room's order; weight, length: what loads and heights are read in."""

    machines: tuple[str, ...]
    weight: Weight = "kg"
    length: Length = "cm"

    def load_words(self, load: float | None, unit: str) -> str:
        """A load in the room's unit: ``66.1 lb`` for 30 kg; a place on the stack stays as it is."""
        return load_words(*self.load(load, unit))

    def lengths(self, words: str) -> str:
        """What the tool says, its lengths in inches where the room reads feet and inches.

        Whole cm come to half an inch, finer ones to a tenth. Not for what people wrote.
        """
        return _IN_CM.sub(_inches, words) if self.length == "ft" else words

    def report_lengths(self, body: str) -> str:
        """A report as JSON, with ``lengths`` in what it says; names of files stay as they are."""
        return json.dumps(_said(json.loads(body), self)) if self.length == "ft" else body

    def load(self, load: float | None, unit: str) -> tuple[float | None, str]:
        """A load and its unit, by the room's where it is a weight."""
        if load is None or unit == self.weight or unit not in WEIGHTS:
            return load, unit
        return round(load / KG_PER_LB if self.weight == "lb" else load * KG_PER_LB, 1), self.weight


def _said(value: Any, room: Room, key: str = "") -> Any:
    if isinstance(value, dict):
        return {name: _said(inner, room, name) for name, inner in value.items()}
    if isinstance(value, list):
        return [_said(inner, room, key) for inner in value]
    return room.lengths(value) if isinstance(value, str) and key not in _FILES else value


def _inches(found: re.Match[str]) -> str:
    def inches(number: re.Match[str]) -> str:
        value = float(number[0]) / CM_PER_IN
        return f"{value:.1f}" if "." in number[0] else f"{round(2 * value) / 2:g}"

    return re.sub(_NUMBER, inches, found[0]).replace(" cm", " in")


def usual_machines() -> tuple[str, ...]:
    """All machines in the order of the usual circuit."""
    known = [exercise for name in exercise_names() if (exercise := exercise_of(name)) is not None]
    return tuple(e.name for e in circuit_order(known))


def room_of(machines: Sequence[str] | None, weight: str | None, length: str | None) -> Room:
    """The room as it is kept; what was not chosen, or is not known any more, is as usual."""
    known = tuple(name for name in machines or () if name in exercise_names())
    return Room(known or usual_machines(), "lb" if weight == "lb" else "kg", "ft" if length == "ft" else "cm")


def in_feet(height_cm: float) -> tuple[int, float]:
    """Feet and inches of a height, to half an inch."""
    inches = round(2 * height_cm / CM_PER_IN) / 2
    return int(inches // IN_PER_FT), inches % IN_PER_FT


def in_cm(feet: float, inches: float) -> float:
    """A height in cm."""
    return round((feet * IN_PER_FT + inches) * CM_PER_IN, 1)
