"""A history of sets as people write it, CSV -> records; every bad cell named by line and column.

A row that cannot be read stops the reading: a row left out could be the one that notes pain.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal, cast

from shared.errors import DefinitionError

LoadUnit = Literal["kg", "lb"]
COLUMNS = ("date", "exercise", "load", "unit", "repetitions", "flags", "flags_dismissed", "pain")
KG_PER_LB = 0.45359237
MAX_BYTES = 2_000_000
MAX_LOAD = {"kg": 1000.0, "lb": 2200.0}
_NAMED_FAULTS = 4
_YES, _NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")
_UNITS: dict[str, LoadUnit] = {"kg": "kg", "kgs": "kg", "lb": "lb", "lbs": "lb"}


@dataclass(frozen=True)
class SetRecord:
    """One set of one member: load in ``unit``; flags: faults flagged, dismissed: those taken back."""

    day: date
    exercise: str
    load: float
    unit: LoadUnit
    repetitions: int
    flags: int = 0
    dismissed: int = 0
    pain: bool = False

    @property
    def open_faults(self) -> int:
        """Faults flagged and not dismissed."""
        return max(0, self.flags - self.dismissed)

    @property
    def load_kg(self) -> float:
        """The load in kilograms, whatever it was written in."""
        return self.load * (KG_PER_LB if self.unit == "lb" else 1.0)


class _Bad(ValueError):
    """What is wrong with one cell."""


def read_history(path: Path) -> list[SetRecord]:
    """All sets of a file, in order of their dates; sets of one day stay in the order of the file.

    Raises
    ------
    DefinitionError : the file cannot be read, or cells cannot; line and column are named.
    """
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise DefinitionError(path, [("", f"cannot be read: {error.strerror}")]) from error
    if len(data) > MAX_BYTES:
        raise DefinitionError(path, [("", "is larger than 2 MB, which no history of sets is")])
    try:
        return parse_history(data.decode("utf-8-sig"), path)
    except UnicodeDecodeError as error:
        raise DefinitionError(path, [("", "is not UTF-8 text; save it as CSV (UTF-8)")]) from error


def parse_history(text: str, file: Path = Path("history.csv")) -> list[SetRecord]:
    """The sets in a CSV text; see ``read_history``."""
    records: list[SetRecord | None] = []
    faults: list[tuple[str, str]] = []
    try:
        rows = _rows(text)
        header = [name.strip().lower() for name in next(rows, (1, list[str]()))[1]]
        _check_header(header, file)
        for line, row in rows:
            if any(cell.strip() for cell in row):
                records.append(_record(header, row, line, faults))
    except csv.Error as error:
        raise DefinitionError(file, [("", f"is not valid CSV: {error}")]) from error
    if faults:
        more = [("", f"and {len(faults) - _NAMED_FAULTS} more")] if len(faults) > _NAMED_FAULTS else []
        raise DefinitionError(file, [*faults[:_NAMED_FAULTS], *more])
    return sorted((r for r in records if r is not None), key=lambda r: r.day)


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    first = text.split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    for row in reader:
        yield reader.line_num, row


def _check_header(header: Sequence[str], file: Path) -> None:
    missing = [name for name in COLUMNS if name not in header]
    double = [name for name in COLUMNS if header.count(name) > 1]
    if missing:
        said = f"has no column {', '.join(missing)}; it needs {', '.join(COLUMNS)}"
        raise DefinitionError(file, [("line 1", said)])
    if double:
        raise DefinitionError(file, [("line 1", f"has the column {', '.join(double)} twice")])


def _record(
    header: Sequence[str], row: Sequence[str], line: int, faults: list[tuple[str, str]]
) -> SetRecord | None:
    """One row; what is wrong goes into ``faults``, and then there is no record."""
    if len(row) != len(header):
        faults.append((f"line {line}", f"has {len(row)} cells where the header has {len(header)}"))
        return None
    cells = {name: cell.strip() for name, cell in zip(header, row, strict=True)}
    found: dict[str, object] = {}
    before = len(faults)
    for name in COLUMNS:
        try:
            found[name] = _PARSERS[name](cells[name])
        except _Bad as error:
            faults.append((f"line {line}, {name}", str(error)))
    if len(faults) == before:
        try:
            return _joined(found)
        except _Bad as error:
            faults.append((f"line {line}, {error.args[1]}", error.args[0]))
    return None


def _joined(found: dict[str, object]) -> SetRecord:
    unit, load = cast(LoadUnit, found["unit"]), cast(float, found["load"])
    flags, dismissed = cast("Faults", found["flags"]), cast("Faults", found["flags_dismissed"])
    if load > MAX_LOAD[unit]:
        raise _Bad(f"{load:g} {unit} is more than any stack holds", "load")
    if dismissed.count > flags.count:
        raise _Bad("more was dismissed than flagged", "flags_dismissed")
    stray = sorted(dismissed.names - flags.names) if flags.names or not flags.count else []
    if stray:
        raise _Bad(f"{_shown(stray[0])} was dismissed but not flagged", "flags_dismissed")
    return SetRecord(
        cast(date, found["date"]), cast(str, found["exercise"]), load, unit,
        cast(int, found["repetitions"]), flags.count, dismissed.count, cast(bool, found["pain"]),
    )  # fmt: skip


@dataclass(frozen=True)
class Faults:
    """A cell of faults: how many, and their names where names were written."""

    count: int
    names: frozenset[str] = frozenset()


def _shown(cell: str) -> str:
    """What people wrote, cut short and with nothing in it that a terminal would obey."""
    return ascii(cell if len(cell) <= 24 else cell[:21] + "...")


def _date(cell: str) -> date:
    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", cell, re.ASCII):
            raise ValueError
        return date.fromisoformat(cell)
    except ValueError:
        raise _Bad(f"{_shown(cell)} is no date; write year-month-day, such as 2026-05-04") from None


def _exercise(cell: str) -> str:
    if not cell or len(cell) > 40 or not cell.isprintable():
        raise _Bad(f"{_shown(cell)} is no exercise; write a name of up to 40 letters")
    return cell.lower()


def _load(cell: str) -> float:
    if (
        not re.fullmatch(r"\d{1,4}(\.\d{1,3}|,\d{1,2})?", cell, re.ASCII)
        or float(cell.replace(",", ".")) <= 0
    ):
        raise _Bad(f"{_shown(cell)} is no load; write a number above 0, the unit in its own column")
    return float(cell.replace(",", "."))


def _unit(cell: str) -> LoadUnit:
    if cell.lower() not in _UNITS:
        raise _Bad(f"{_shown(cell)} is no unit; write kg or lb")
    return _UNITS[cell.lower()]


def _repetitions(cell: str) -> int:
    if not re.fullmatch(r"\d{1,3}", cell, re.ASCII) or int(cell) > 200:
        raise _Bad(f"{_shown(cell)} is no count; write a whole number from 0 to 200")
    return int(cell)


def _faults(cell: str) -> Faults:
    if re.fullmatch(r"\d{1,3}", cell, re.ASCII):
        return Faults(int(cell))
    names = re.split(r"[\s;,|]+", cell.lower()) if cell else []
    if not all(re.fullmatch(r"[a-z][a-z0-9-]*", name) for name in names):
        raise _Bad(f"{_shown(cell)} is neither a whole number nor names of faults with spaces between")
    return Faults(len(set(names)), frozenset(names))


def _pain(cell: str) -> bool:
    if cell.lower() not in (*_YES, *_NO):
        raise _Bad(f"{_shown(cell)} says neither yes nor no; ask the member, then write one of them")
    return cell.lower() in _YES


_PARSERS = {
    "date": _date, "exercise": _exercise, "load": _load, "unit": _unit, "repetitions": _repetitions,
    "flags": _faults, "flags_dismissed": _faults, "pain": _pain,
}  # fmt: skip
