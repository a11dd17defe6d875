"""A stack's loads and steps in kg, lb, pins and plates."""

from __future__ import annotations

import pytest

from app.rules.stack import USUAL, Stack
from app.rules.words import load_words

STEPS = [
    (60, "lb", 1, 1, 65), (65, "lb", 1, 1, 75), (65, "lb", 1, 2, 70), (60, "lb", -1, 1, 50),
    (15, "lb", -1, 1, None), (60, "lb", 1, 0, 75), (21, "kg", 1, 1, 23.5), (20, "kg", 1, 1, 22.5),
    (5, "kg", -1, 1, None),
]  # fmt: skip


@pytest.mark.parametrize(("load", "unit", "way", "add_ons", "expected"), STEPS)
def test_the_stack_gives_its_smallest_step(load, unit, way, add_ons, expected) -> None:
    assert USUAL[unit].model_copy(update={"add_ons": add_ons}).neighbour(load, unit, way) == expected


OWN = Stack(unit="lb", start=20.0, step=10.0, add_on=2.5)
PINS = [
    (1, "pin", 1, 1.5), (1.5, "pin", 1, 2), (2, "plates", 1, 2.5), (2, "plates", -1, 1.5),
    (1, "pin", -1, None),
    (20, "lb", 1, 22.5), (22.5, "lb", 1, 30), (20, "lb", -1, None), (9.07, "kg", 1, 10.2),
]  # fmt: skip


@pytest.mark.parametrize(("load", "unit", "way", "expected"), PINS)
def test_a_machines_own_stack_begins_where_its_top_plate_does(load, unit, way, expected) -> None:
    assert OWN.neighbour(load, unit, way) == expected


@pytest.mark.parametrize(
    ("load", "unit", "lb"), [(1, "pin", 20), (3, "plates", 40), (3.5, "pin", 42.5), (45, "lb", 45)]
)
def test_a_pin_weighs_what_hangs_on_it(load, unit, lb) -> None:
    assert OWN.kg(load, unit) == pytest.approx(lb * 0.45359237)


def test_without_an_add_on_there_is_no_step_by_it() -> None:
    bare = OWN.model_copy(update={"add_ons": 0})
    assert bare.neighbour(2, "pin", 1) == 3 and not bare.by_add_on(1.0) and OWN.by_add_on(1.0)


def test_loads_are_told_as_people_set_them() -> None:
    told = ((3, "pin"), (3.5, "pin"), (1, "plates"), (2, "plates"), (27.5, "kg"))
    assert [load_words(*one) for one in told] == [
        "pin 3",
        "pin 3 with the add-on weight",
        "1 plate",
        "2 plates",
        "27.5 kg",
    ]
