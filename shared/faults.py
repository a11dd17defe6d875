"""The catalogue of faults, ``shared/faults.toml``: what a fault is, on all machines."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from shared.definition import read_toml

CATALOGUE = Path(__file__).parent / "faults.toml"
#: The table of the catalogue that is no fault: rules for all of them.
RULES = "rules"
#: How worrying a fault is where the catalogue says nothing; the smaller, the more.
USUAL_ORDER = 50


@cache
def _read() -> dict[str, Any]:
    return read_toml(CATALOGUE)


def catalogue() -> dict[str, dict[str, Any]]:
    """Every fault by its id, as the file has it; raises DefinitionError where it cannot be read."""
    return {fault: dict(fields) for fault, fields in _read().items() if fault != RULES}


def is_grave(check: str) -> bool:
    """Whether a fault takes a joint to its end under load; one of a user's own is not."""
    return bool(catalogue().get(check, {}).get("grave", False))


def order_of(check: str) -> int:
    """Which fault to speak of first: the smaller, the sooner."""
    return int(catalogue().get(check, {}).get("order", USUAL_ORDER))


#: How sure a flag is: its one-sided bound of this certainty lies beyond the limit.
FLAG_CERTAINTY = float(_read()[RULES]["flag_certainty"])
