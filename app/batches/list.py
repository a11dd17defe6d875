"""Which clips a batch is of: a folder, or a list as CSV; every bad cell named by line and column."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Literal

from app.reading.csv_rows import NO, YES, BadCell, Fault, read_csv, refuse, shown, table
from app.reading.yardstick_option import HIGH_CM, LOW_CM, height, yardsticks
from shared.errors import DefinitionError, PlumbsetError, UsageError
from shared.exercise import Exercise, exercise_names, find_exercise
from shared.proof import Proof
from vision.judging.options import Options

COLUMNS = ("clip", "exercise", "side", "height_cm", "cleared", "member", "reference")
NEEDED = ("clip", "exercise")
#: What a file in a folder is called when it is a clip.
SUFFIXES = (
    ".mp4", ".mov", ".m4v", ".3gp", ".3g2", ".mkv", ".webm", ".avi", ".ts", ".mts", ".m2ts", ".mpg", ".mpeg",
    ".ogv", ".flv", ".wmv",
)  # fmt: skip
MAX_BYTES = 20_000_000
#: Schemes of URLs that a list may name: none that leads back to this machine's files.
REMOTE = ("https", "http", "s3", "gs", "gcs", "az", "abfs", "abfss", "sftp", "ftp", "smb", "webdav")


@dataclass(frozen=True)
class Entry:
    """A clip and how to judge it. clip: path or URL; shown: how the list or the folder calls it."""

    clip: str
    shown: str
    exercise: Exercise
    options: Options


@dataclass(frozen=True)
class ListedClip:
    """One row of a list, its cells read but nothing that they name opened yet."""

    line: int
    clip: str
    exercise: str
    side: Literal["left", "right"] | None = None
    height_cm: float | None = None
    cleared: bool = False
    member: str = ""
    reference: str = ""


def entries_in(folder: Path, exercise: str | None) -> list[Entry]:
    """The clips of a folder: all of one exercise, or in sub-folders named after exercises.

    Raises
    ------
    UsageError : there is no clip, or a clip lies where its exercise is not known.
    """
    if exercise is not None:
        definition = find_exercise(exercise)
        found = [(path, definition) for path in _clips(folder)]
    else:
        if stray := _clips(folder):
            raise UsageError(
                f"What exercise is {stray[0].name!r}? Give --exercise, or put clips into folders named after "
                "exercises."
            )
        named = [(below, _clips(below)) for below in sorted(folder.iterdir()) if below.is_dir()]
        found = [(path, _named_after(below)) for below, clips in named for path in clips]
    if not found:
        raise UsageError(f"There is no clip in the folder {folder}; give another one.")
    return [
        Entry(str(path.absolute()), path.relative_to(folder).as_posix(), exercise=of, options=Options())
        for path, of in found
    ]


def with_proof(entries: Sequence[Entry], proof: Proof) -> list[Entry]:
    """The same clips, none told more surely than what tags proved allows."""
    return [replace(entry, options=replace(entry.options, proof=proof)) for entry in entries]


def _clips(folder: Path) -> list[Path]:
    return sorted(
        p for p in folder.iterdir() if p.suffix.lower() in SUFFIXES and p.name[0] != "." and p.is_file()
    )


def _named_after(folder: Path) -> Exercise:
    if folder.name not in exercise_names():
        raise UsageError(
            f"The folder {folder.name!r} holds clips but is named after no exercise; "
            f"they are {', '.join(exercise_names())}."
        )
    return find_exercise(folder.name)


def read_list(path: Path, allow_remote: bool = False) -> list[Entry]:
    """The clips of a list, with all that they are judged by read; paths in it begin at its own folder.

    A list may come from anyone: it opens nothing outside its folder, and URLs only with ``allow_remote``.

    Raises
    ------
    DefinitionError : the file, or a file that it names, cannot be read; line and column are named.
    """
    return _opened(parse_list(read_csv(path, MAX_BYTES, "list of clips"), path), path, allow_remote)


def parse_list(text: str, file: Path = Path("clips.csv")) -> list[ListedClip]:
    """The rows of a list; DefinitionError with every fault, where one cannot be read or none is there."""
    faults: list[Fault] = []
    rows = table(text, file, check_header=_header_fault, parsers=_PARSERS, faults=faults)
    lines = [ListedClip(number, **found) for number, found in rows]  # type: ignore[arg-type]
    if not (lines or faults):
        raise DefinitionError(file, [("", "names no clip; write one a line")])
    refuse(faults, file)
    return lines


def _header_fault(header: Sequence[str]) -> str:
    missing = [name for name in NEEDED if name not in header]
    strange = [name for name in header if name not in COLUMNS]
    double = [name for name in COLUMNS if header.count(name) > 1]
    if missing:
        return f"has no column {' or '.join(missing)}; it needs {', '.join(NEEDED)}"
    if strange:
        return f"has a column {shown(strange[0])}, which means nothing here; known are {', '.join(COLUMNS)}"
    return f"has the column {double[0]} twice" if double else ""


def _name(cell: str) -> str:
    if not cell:
        raise BadCell("is empty")
    return _file(cell)


def _file(cell: str) -> str:
    if not cell.isprintable() or len(cell) > 2000:
        raise BadCell(f"{shown(cell)} is no name of a file")
    return cell


def _side(cell: str) -> str | None:
    if cell.lower() not in ("", "left", "right"):
        raise BadCell(f"{shown(cell)} is no side; write left or right, or nothing")
    return cell.lower() or None


def _height(cell: str) -> float | None:
    try:
        return height(float(cell.replace(",", ".")) if cell else None)
    except (ValueError, UsageError):
        raise BadCell(f"{shown(cell)} is no body height; write one from {LOW_CM} to {HIGH_CM}") from None


def _cleared(cell: str) -> bool:
    if cell.lower() not in ("", *YES, *NO):
        raise BadCell(f"{shown(cell)} says neither yes nor no")
    return cell.lower() in YES


_PARSERS: Mapping[str, Callable[[str], object]] = {
    "clip": _name, "exercise": _name, "side": _side, "height_cm": _height, "cleared": _cleared,
    "member": _file, "reference": _file,
}  # fmt: skip


def _under(base: Path, cell: str) -> Path:
    """A file that the list names, in the list's own folder once links are followed."""
    path = base / cell
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(base)):
        raise UsageError(f"{shown(cell)} lies outside the list's own folder; put it there.")
    return path


def _clip(base: Path, cell: str, allow_remote: bool) -> str:
    """Path or URL of a clip."""
    if "://" not in cell:
        return str(_under(base, cell))
    if "::" in cell or cell.split("://")[0].lower() not in REMOTE:
        raise UsageError(f"{shown(cell)} is no URL that a list may name; known are {', '.join(REMOTE)}.")
    if not allow_remote:
        raise UsageError(f"{shown(cell)} lies elsewhere; add --allow-remote if you trust this list's URLs.")
    return cell


def _opened(lines: Sequence[ListedClip], file: Path, allow_remote: bool) -> list[Entry]:
    """The rows with the files read that they name; a clip itself is opened by whoever checks it."""
    base, faults, entries = file.absolute().parent, list[Fault](), list[Entry]()
    seen: dict[tuple[str, str, str | None], int] = {}

    @cache
    def exercise_of(name: str) -> Exercise:
        return find_exercise(str(_under(base, name)) if name.endswith(".toml") else name)

    for line in lines:
        try:
            exercise = exercise_of(line.exercise)
            member = _under(base, line.member) if line.member else None
            reference = _under(base, line.reference) if line.reference else None
            own, approved = yardsticks(exercise, member, reference)
            clip = _clip(base, line.clip, allow_remote)
        except PlumbsetError as error:
            faults.append((f"line {line.line}", str(error).rstrip(".")))
            continue
        first = seen.setdefault((line.clip, exercise.name, line.side), line.line)
        if first != line.line:
            faults.append((f"line {line.line}", f"is the same clip and exercise as line {first}"))
        options = Options(
            line.side, None, height_cm=line.height_cm, cleared=line.cleared, member=own, reference=approved
        )
        entries.append(Entry(clip, line.clip, exercise=exercise, options=options))
    refuse(faults, file)
    return entries
