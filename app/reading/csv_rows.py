"""Tables that people write as CSV, read alike: every bad cell is named by line and column, all at once."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path

from shared.definition import read_bounded
from shared.errors import DefinitionError

YES, NO = ("yes", "y", "true", "1"), ("no", "n", "false", "0")
_NAMED_FAULTS = 4

#: (where, what is wrong) as ``DefinitionError`` takes them.
Fault = tuple[str, str]


class BadCell(ValueError):
    """What is wrong with one cell, as the end of a sentence that names its place."""


def read_csv(path: Path, most_bytes: int, what: str) -> str:
    """The text of a table; ``what``: the kind of table, for the sentence about one that is too large.

    Raises
    ------
    DefinitionError : it cannot be read, is too large, or no UTF-8 text.
    """
    try:
        return read_bounded(path, most_bytes, what).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DefinitionError(path, [("", "is not UTF-8 text; save it as CSV (UTF-8)")]) from error


def table(
    text: str,
    file: Path,
    check_header: Callable[[Sequence[str]], str],
    parsers: Mapping[str, Callable[[str], object]],
    faults: list[Fault],
) -> Iterator[tuple[int, dict[str, object]]]:
    """(line, parsed cells by column) of every row that can be read; what is wrong goes into ``faults``.

    Columns are parted by comma or semicolon. check_header: what is wrong with the columns' names, empty
    when nothing is; parsers: one for each column that is read, raising BadCell.

    Raises
    ------
    DefinitionError : the header is wrong, or the text is no CSV.
    """
    first = text.split("\n", 1)[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        header = [name.strip().lower() for name in next(reader, list[str]())]
        if wrong := check_header(header):
            raise DefinitionError(file, [("line 1", wrong)])
        for row in reader:
            found = (
                _cells(header, row, line=reader.line_num, parsers=parsers, faults=faults)
                if any(map(str.strip, row))
                else None
            )
            if found is not None:
                yield reader.line_num, found
    except csv.Error as error:
        raise DefinitionError(file, [("", f"is not valid CSV: {error}")]) from error


def _cells(
    header: Sequence[str],
    row: Sequence[str],
    line: int,
    parsers: Mapping[str, Callable[[str], object]],
    faults: list[Fault],
) -> dict[str, object] | None:
    if len(row) != len(header):
        faults.append((f"line {line}", f"has {len(row)} cells where the header has {len(header)}"))
        return None
    cells = dict(zip(header, row, strict=True))
    found, before = dict[str, object](), len(faults)
    for name in (n for n in parsers if n in cells):
        try:
            found[name] = parsers[name](cells[name].strip())
        except BadCell as error:
            faults.append((f"line {line}, {name}", str(error)))
    return found if len(faults) == before else None


def refuse(faults: Sequence[Fault], file: Path) -> None:
    """DefinitionError with the first few faults, where there are any."""
    if faults:
        more = [("", f"and {len(faults) - _NAMED_FAULTS} more")] if len(faults) > _NAMED_FAULTS else []
        raise DefinitionError(file, [*faults[:_NAMED_FAULTS], *more])


def shown(cell: str) -> str:
    """What people wrote, cut short and with nothing in it that a terminal would obey."""
    return ascii(cell if len(cell) <= 40 else cell[:37] + "...")
