"""A history of sets as people write it, CSV -> records; every bad cell named by line and column.

A row that cannot be read stops the reading: a row left out could be the one that notes pain.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal, cast, get_args

from app.reading.csv_rows import NO, YES, BadCell, Fault, read_csv, refuse, shown, table
from app.rules.states import Feeling
from shared.faults import is_fact

LoadUnit = Literal["kg", "lb", "plates", "pin"]
COLUMNS = ("date", "exercise", "load", "unit", "repetitions", "flags", "flags_dismissed", "pain")
#: Columns that may be left out: how the set felt, and by how many percent its last repetitions were slower.
MORE_COLUMNS = ("felt", "slowed")
KG_PER_LB = 0.45359237
MAX_BYTES = 2_000_000
MAX_LOAD: dict[LoadUnit, float] = {"kg": 1000.0, "lb": 2200.0, "pin": 60.0, "plates": 60.0}
_UNITS: dict[str, LoadUnit] = {
    "kg": "kg", "kgs": "kg", "lb": "lb", "lbs": "lb", "pin": "pin", "plate": "plates", "plates": "plates",
}  # fmt: skip


@dataclass(frozen=True)
class SetRecord:
    """One set of one member: load in ``unit``; flags: faults flagged, dismissed: those taken back.

    feeling: as the member told it; slowed: the last three repetitions over the first half, in percent
    longer; set_id: its number in the store. None: not known.
    """

    day: date
    exercise: str
    load: float
    unit: LoadUnit
    repetitions: int
    flags: int = 0
    dismissed: int = 0
    pain: bool = False
    feeling: Feeling | None = None
    slowed: float | None = None
    set_id: int | None = None

    @property
    def open_faults(self) -> int:
        """Faults flagged and not dismissed."""
        return max(0, self.flags - self.dismissed)


def read_history(path: Path) -> list[SetRecord]:
    """All sets of a file, in order of their dates; sets of one day stay in the order of the file.

    Raises
    ------
    DefinitionError : the file cannot be read, or cells cannot; line and column are named.
    """
    return parse_history(read_csv(path, MAX_BYTES, "history of sets"), path)


def parse_history(text: str, file: Path = Path("history.csv")) -> list[SetRecord]:
    """The sets in a CSV text; see ``read_history``."""
    faults: list[Fault] = []
    records = []
    for line, found in table(text, file, check_header=_header_fault, parsers=_PARSERS, faults=faults):
        try:
            records.append(_joined(found))
        except BadCell as error:
            faults.append((f"line {line}, {error.args[1]}", error.args[0]))
    refuse(faults, file)
    return sorted(records, key=lambda r: r.day)


def _header_fault(header: Sequence[str]) -> str:
    missing = [name for name in COLUMNS if name not in header]
    double = [name for name in (*COLUMNS, *MORE_COLUMNS) if header.count(name) > 1]
    if missing:
        return f"has no column {', '.join(missing)}; it needs {', '.join(COLUMNS)}"
    return f"has the column {', '.join(double)} twice" if double else ""


def _joined(found: dict[str, object]) -> SetRecord:
    unit, load = cast(LoadUnit, found["unit"]), cast(float, found["load"])
    flags, dismissed = cast("Faults", found["flags"]), cast("Faults", found["flags_dismissed"])
    if load > MAX_LOAD[unit]:
        raise BadCell(f"{load:g} {unit} is more than any stack holds", "load")
    if dismissed.count > flags.count:
        raise BadCell("more was dismissed than flagged", "flags_dismissed")
    stray = sorted(dismissed.names - flags.names) if flags.names or not flags.count else []
    if stray:
        raise BadCell(f"{shown(stray[0])} was dismissed but not flagged", "flags_dismissed")
    return SetRecord(
        cast(date, found["date"]), cast(str, found["exercise"]), load=load, unit=unit,
        repetitions=cast(int, found["repetitions"]), flags=flags.count, dismissed=dismissed.count,
        pain=cast(bool, found["pain"]), feeling=cast("Feeling | None", found.get("felt")),
        slowed=cast("float | None", found.get("slowed")),
    )  # fmt: skip


@dataclass(frozen=True)
class Faults:
    """A cell of faults: how many, and their names where names were written."""

    count: int
    names: frozenset[str] = frozenset()


def _date(cell: str) -> date:
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", cell, re.ASCII):
            raise ValueError
        return date.fromisoformat(cell)
    except ValueError:
        raise BadCell(f"{shown(cell)} is no date; write year-month-day, such as 2026-05-04") from None


def _exercise(cell: str) -> str:
    if not cell or len(cell) > 40 or not cell.isprintable():
        raise BadCell(f"{shown(cell)} is no exercise; write a name of up to 40 letters")
    return cell.lower()


def _load(cell: str) -> float:
    if (
        not re.fullmatch(r"\d{1,4}(\.\d{1,3}|,\d{1,2})?", cell, re.ASCII)
        or float(cell.replace(",", ".")) <= 0
    ):
        raise BadCell(f"{shown(cell)} is no load; write a number above 0, the unit in its own column")
    return float(cell.replace(",", "."))


def _unit(cell: str) -> LoadUnit:
    if cell.lower() not in _UNITS:
        raise BadCell(f"{shown(cell)} is no unit; write kg, lb, pin or plates")
    return _UNITS[cell.lower()]


def _repetitions(cell: str) -> int:
    if not re.fullmatch(r"\d{1,3}", cell, re.ASCII) or int(cell) > 200:
        raise BadCell(f"{shown(cell)} is no count; write a whole number from 0 to 200")
    return int(cell)


def _faults(cell: str) -> Faults:
    if re.fullmatch(r"\d{1,3}", cell, re.ASCII):
        return Faults(int(cell))
    names = re.split(r"[\s;,|]+", cell.lower()) if cell else []
    if not all(re.fullmatch(r"[a-z][a-z0-9-]*", name) for name in names):
        raise BadCell(f"{shown(cell)} is neither a whole number nor names of faults with spaces between")
    faults = frozenset(name for name in names if not is_fact(name))
    return Faults(len(faults), faults)


def _pain(cell: str) -> bool:
    if cell.lower() not in (*YES, *NO):
        raise BadCell(f"{shown(cell)} says neither yes nor no; ask the member, then write one of them")
    return cell.lower() in YES


def _felt(cell: str) -> Feeling | None:
    said = cell.lower().replace(" ", "-")
    if said and said not in get_args(Feeling):
        raise BadCell(f"{shown(cell)} is no feeling; write {', '.join(get_args(Feeling))}, or leave it empty")
    return cast("Feeling", said) if said else None


def _slowed(cell: str) -> float | None:
    if not cell:
        return None
    if not re.fullmatch(r"-?\d{1,3}(\.\d)?", cell, re.ASCII):
        raise BadCell(f"{shown(cell)} is no percentage; write a number such as 30, or leave it empty")
    return float(cell)


_PARSERS = {
    "date": _date, "exercise": _exercise, "load": _load, "unit": _unit, "repetitions": _repetitions,
    "flags": _faults, "flags_dismissed": _faults, "pain": _pain,
    "felt": _felt, "slowed": _slowed,
}  # fmt: skip
