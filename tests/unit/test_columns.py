"""The columns of signals.csv are read back as the signals that they were written of."""

from __future__ import annotations

import pytest

from shared.columns import RAW, UNCERTAINTY, column_of, signal_of
from shared.domain import Unit

CASES: list[tuple[str, Unit, str]] = [
    ("knee", "deg", "knee_deg"),
    ("load_height", "cm", "load_height_cm"),
    ("seat_gap", "trunk_fraction", "seat_gap_trunk_fraction"),
    ("reach", "%", "reach_percent"),
]


@pytest.mark.parametrize(("name", "unit", "column"), CASES)
def test_a_column_names_its_signal_and_unit(name: str, unit: Unit, column: str) -> None:
    assert column_of(name, unit) == column
    assert signal_of(column) == (name, unit)


@pytest.mark.parametrize("column", ["knee_deg" + UNCERTAINTY, "knee_deg" + RAW])
def test_what_stands_beside_the_values_is_no_signal(column: str) -> None:
    assert signal_of(column) is None
