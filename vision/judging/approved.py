"""A set that the trainer approved, read back from the files it left: report.json and signals.csv."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from shared.definition import faults_of, read_bounded
from shared.domain import Floats, ViewName
from shared.errors import DefinitionError
from shared.exercise import Exercise
from shared.report import RepPart, SetReport

MAX_BYTES = 40_000_000


@dataclass(frozen=True)
class Trace:
    """One signal of a set: (T,) times and values, in the unit that its name ends with."""

    time_s: Floats
    values: Floats

    def between(self, start_s: float, end_s: float) -> Floats:
        """Known values from start_s to end_s."""
        inside = (self.time_s >= start_s) & (self.time_s <= end_s) & ~np.isnan(self.values)
        return self.values[inside]


@dataclass(frozen=True)
class Reference:
    """An approved set: its report, and its signals by column name (``knee_deg``) where they are known."""

    report: SetReport
    traces: Mapping[str, Trace]

    @property
    def usual_range(self) -> float:
        """Median range of its counted repetitions, in the drive's unit."""
        return float(np.median(ranges(full_reps(self.report))))

    def filmed_like(self, view: ViewName | None) -> bool:
        """Whether it shows the body as a clip of that view does, from either side: an angle differs else."""
        return _kind(self.report.quality.view) == _kind(view)


def _kind(view: ViewName | None) -> str:
    return str(view).split("-")[0]


def load_reference(path: Path, exercise: Exercise) -> Reference:
    """Read an approved set's report.json, and signals.csv when it lies beside it.

    Raises
    ------
    DefinitionError : it cannot be read, was not judged, or is of another exercise.
    """
    try:
        report = SetReport.from_json(_text(path))
    except ValidationError as error:
        key, said = faults_of(error)[0]
        raise DefinitionError(path, [(key, f"{said}; give the report.json of an approved set")]) from error
    if report.exercise != exercise.name:
        said = f"is of {report.exercise[:40]!r}, and this set is {exercise.name!r}"
        raise DefinitionError(path, [("exercise", said)])
    if not report.quality.usable or not full_reps(report):
        said = "that set was not fit to judge or has no full repetition; approve another one"
        raise DefinitionError(path, [("quality", said)])
    beside = path.with_name("signals.csv")
    return Reference(report, read_traces(_text(beside), beside) if beside.exists() else {})


def _text(path: Path) -> str:
    try:
        return read_bounded(path, MAX_BYTES, "file of a set").decode("utf-8")
    except UnicodeDecodeError as error:
        raise DefinitionError(path, [("", "is not UTF-8 text")]) from error


def read_traces(text: str, path: Path) -> dict[str, Trace]:
    """The columns of a signals.csv by name; DefinitionError, which names ``path``, where it is none."""
    lines = text.splitlines()
    try:
        rows = list(csv.reader(lines, strict=True))
        header, body = rows[0], rows[1:]
        table = np.array([[float(cell) if cell else math.nan for cell in row] for row in body])
        if "time_s" not in header or table.shape[1:] != (len(header),):
            raise ValueError
    except (csv.Error, ValueError, IndexError) as error:
        said = "is not the table that was written with the report; restore it or take it away"
        raise DefinitionError(path, [("", said)]) from error
    time_s = table[:, header.index("time_s")]
    return {name: Trace(time_s, table[:, i]) for i, name in enumerate(header) if name != "time_s"}


def full_reps(report: SetReport) -> list[RepPart]:
    """The counted repetitions."""
    return [rep for rep in report.reps if not rep.partial]


def ranges(reps: Sequence[RepPart]) -> list[float]:
    """Range of each repetition in the drive's unit."""
    return [rep.drive_max_deg - rep.drive_min_deg for rep in reps]
