"""What a studio says of its room: which machines stand there, and the units that people read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.rules.history import KG_PER_LB
from app.rules.words import exercise_of, load_words
from shared.exercise import circuit_order, exercise_names

Weight = Literal["kg", "lb"]
Length = Literal["cm", "ft"]
WEIGHTS: tuple[Weight, ...] = ("kg", "lb")
LENGTHS: tuple[Length, ...] = ("cm", "ft")
CM_PER_IN = 2.54
IN_PER_FT = 12


@dataclass(frozen=True)
class Room:
    """machines: in the room's order; weight, length: what loads and heights are read in."""

    machines: tuple[str, ...]
    weight: Weight = "kg"
    length: Length = "cm"

    def load_words(self, load: float | None, unit: str) -> str:
        """A load in the room's unit: ``66.1 lb`` for 30 kg; a place on the stack stays as it is."""
        return load_words(*self.load(load, unit))

    def load(self, load: float | None, unit: str) -> tuple[float | None, str]:
        """A load and its unit, by the room's where it is a weight."""
        if load is None or unit == self.weight or unit not in WEIGHTS:
            return load, unit
        return round(load / KG_PER_LB if self.weight == "lb" else load * KG_PER_LB, 1), self.weight


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
