"""Analysis -> reps.csv and signals.csv, as text; an empty cell means not known."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence

import numpy as np

from shared.columns import RAW, UNCERTAINTY, column_of
from shared.domain import Floats, Signal
from shared.report import FindingPart, RepPart, SetReport
from vision.telling.analysis import Analysis

#: A cell that begins with one of these may be run as a formula by a spreadsheet.
_FORMULA_START = ("=", "+", "-", "@", "\t", "\r", "\n")
_VERDICTS = ("flag", "watch", "cannot-tell")


def cell(value: object) -> str:
    """One CSV cell: numbers bare, None and NaN empty, text that reads as a formula made harmless."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        bare = f"{value:.4f}".rstrip("0").rstrip(".")
        return "0" if bare == "-0" else bare
    text = str(value)
    return "'" + text if isinstance(value, str) and text.lstrip(" ").startswith(_FORMULA_START) else text


def _write(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([cell(name) for name in header])
    writer.writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()


def reps_csv(report: SetReport) -> str:
    """One row a repetition: every field of the report, then the checks by verdict.

    An unfit clip lists what could be followed, with ``judged`` saying no.
    """
    judged = report.quality.usable
    reps = report.reps if judged or report.unjudged is None else report.unjudged.reps
    fields = list(RepPart.model_fields)
    header = [*fields, "judged", *(v.replace("-", "_") for v in _VERDICTS)]
    rows = (
        [
            *(getattr(rep, f) for f in fields),
            judged,
            *(_named(report.findings, rep.number, v) for v in _VERDICTS),
        ]
        for rep in reps
    )
    return _write(header, rows)


def _named(findings: Iterable[FindingPart], rep: int, verdict: str) -> str:
    return " ".join(f.check for f in findings if f.rep == rep and f.verdict == verdict)


def signals_csv(analysis: Analysis) -> str:
    """time_s, then for each signal its value and uncertainty, unit in the column's name.

    The uncertainty is the half-width of the 90 % interval: what changes from moment to moment and
    what the whole clip shares, joined as independent parts. A column of raw values follows where a
    learnt correction was applied.
    """
    if analysis.track is None:
        return _write(["time_s"], [])
    header, columns = ["time_s"], [analysis.track.time_s]
    for signal in analysis.signals.values():
        for name, values in _columns(signal):
            header.append(name)
            columns.append(values)
    return _write(header, zip(*(column.tolist() for column in columns), strict=True))


def _columns(signal: Signal) -> list[tuple[str, Floats]]:
    name = column_of(signal.name, signal.unit)
    half_width = np.where(np.isnan(signal.values), np.nan, np.hypot(signal.moment_half, signal.clip_half))
    columns = [(name, signal.values), (name + UNCERTAINTY, half_width)]
    if signal.raw is not signal.values and not np.array_equal(signal.raw, signal.values, equal_nan=True):
        columns.append((name + RAW, signal.raw))
    return columns
