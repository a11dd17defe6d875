"""Which number is on whose card: a small table that the studio keeps, with columns number and name."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path

from app.reading.csv_rows import BadCell, Fault, read_csv, refuse, shown, table
from shared.errors import UsageError
from shared.tags import CARDS
from vision.telling.files import write_text

LONGEST_NAME = 40
MAX_BYTES = 200_000


def read_register(path: Path) -> dict[int, str]:
    """Names by number.

    Raises
    ------
    DefinitionError : it cannot be read, or a cell of it; line and column are named.
    """
    faults: list[Fault] = []
    rows = _rows(path, ("number", "name"), faults)
    found: dict[int, str] = {}
    for line, (number, name) in rows:
        if int(number) in found:
            faults.append((f"line {line}", f"gives card {number} to a second person"))
        found[int(number)] = name
    refuse(faults, path)
    return found


def read_names(path: Path) -> list[str]:
    """The column name of a table, each once; DefinitionError as ``read_register``."""
    faults: list[Fault] = []
    names = [name for _, (name,) in _rows(path, ("name",), faults)]
    refuse(faults, path)
    return list(dict.fromkeys(names))


def with_names(register: Mapping[int, str], names: Sequence[str]) -> dict[int, str]:
    """The register with a card for each name that has none; a card once given stays that person's.

    Raises
    ------
    UsageError : a name is none, or there are more people than cards.
    """
    out, free = dict(register), (n for n in range(1, CARDS + 1) if n not in register)
    for name in dict.fromkeys(names):
        try:
            wanted = _name(name)
        except BadCell as error:
            raise UsageError(f"The name {error}.") from None
        if wanted in out.values():
            continue
        number = next(free, None)
        if number is None:
            raise UsageError(f"There are {CARDS} cards and all are given; take people off the register.")
        out[number] = wanted
    return out


def write_register(path: Path, register: Mapping[int, str]) -> None:
    """Write the table whole or not at all; UsageError where it cannot be written."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("number", "name"))
    rows.writerows(sorted(register.items()))
    try:
        write_text(path, text.getvalue())
    except OSError as error:
        raise UsageError(f"The register {path} cannot be written ({error.strerror}).") from error


def _rows(path: Path, columns: Sequence[str], faults: list[Fault]) -> list[tuple[int, list[str]]]:
    def header_fault(header: Sequence[str]) -> str:
        missing = [name for name in columns if name not in header]
        return f"has no column {' or '.join(missing)}" if missing else ""

    parsers = {name: _PARSERS[name] for name in columns}
    found = list(table(read_csv(path, MAX_BYTES, "list of names"), path, header_fault, parsers, faults))
    return [(line, [str(cells[name]) for name in columns]) for line, cells in found]


def _number(cell: str) -> int:
    if not cell.isascii() or not cell.isdecimal() or not 1 <= int(cell) <= CARDS:
        raise BadCell(f"{shown(cell)} is no card; they are numbered from 1 to {CARDS}")
    return int(cell)


def _name(cell: str) -> str:
    name = cell.strip()
    if not name or not name.isprintable() or len(name) > LONGEST_NAME:
        raise BadCell(f"{shown(cell)} is no name; write one of at most {LONGEST_NAME} letters")
    return name


_PARSERS = {"number": _number, "name": _name}
