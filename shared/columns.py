"""Names of the columns of signals.csv: a signal with its unit, ``knee_deg``, and what stands beside it."""

from __future__ import annotations

from collections.abc import Mapping

from shared.domain import Unit

#: After a column's name: half-widths of its 90 % interval, and its values before any learnt correction.
UNCERTAINTY, RAW = "_uncertainty", "_raw"
_WORDS: Mapping[Unit, str] = {
    "deg": "deg", "s": "s", "cm": "cm", "trunk_fraction": "trunk_fraction", "%": "percent",
    "ratio": "ratio",
}  # fmt: skip


def column_of(name: str, unit: Unit) -> str:
    """The column of a signal's values."""
    return f"{name}_{_WORDS.get(unit, unit)}"


def signal_of(column: str) -> tuple[str, Unit] | None:
    """Name and unit of the signal whose values a column holds; None for what stands beside them."""
    found = ((unit, f"_{word}") for unit, word in _WORDS.items() if column.endswith(f"_{word}"))
    return next(((column.removesuffix(end), unit) for unit, end in found), None)
