"""A trainer's answer to the question about the load: which answers there are, and until when one stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from app.rules.history import KG_PER_LB, SetRecord
from app.rules.load_settings import Settings
from app.rules.progress import Advice, Answer

Choice = Literal["up", "stay", "lower"]
#: Pain or a fault comes first, or the set stopped too soon.
NO_RISE_AFTER: tuple[Answer, ...] = ("ask-trainer", "hold-or-lower")

_KG = {"kg": 1.0, "lb": KG_PER_LB}
#: Within so much, in kg, two weights are one that was read in kg and in lb: each is rounded to a tenth.
ROUNDED_KG = 0.1


@dataclass(frozen=True)
class LoadWord:
    """The answer of one trainer. before: the load that was asked about, as ``load`` in ``unit``.

    asked: what the question spoke for, ``Advice.answer``; set_id: the last set that it rested on.
    """

    choice: Choice
    load: float
    before: float
    unit: str
    asked: str
    set_id: int
    by: str
    at: datetime


def choices(advice: Advice, settings: Settings) -> dict[Choice, float]:
    """The loads that a trainer can choose from, none above the last one after ``NO_RISE_AFTER``."""
    last = advice.last
    stack = settings.stack_of(last)
    up, down = (stack.neighbour(last.load, last.unit, way) for way in (1, -1))
    found: dict[Choice, float | None] = {
        "up": None if advice.answer in NO_RISE_AFTER else up, "stay": last.load, "lower": down,
    }  # fmt: skip
    return {choice: load for choice, load in found.items() if load is not None}


def stands(said: LoadWord | None, advice: Advice) -> bool:
    """Whether an answer is still one: of the same last set, its load and what it speaks for."""
    if said is None or (said.set_id, said.asked) != (advice.last.set_id, advice.answer):
        return False
    return _same(said.before, said.unit, advice.last)


def _same(load: float, unit: str, last: SetRecord) -> bool:
    """Whether a load is that of the last set, in whatever unit the room reads weights by now."""
    if {unit, last.unit} <= set(_KG):
        return abs(load * _KG[unit] - last.load * _KG[last.unit]) < ROUNDED_KG
    return (load, unit) == (last.load, last.unit)
