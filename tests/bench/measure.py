"""How far an analysis lies from the truth of its rendered clip, as rows of one kind each.

A row is a dict with the keys exercise, clip, conditions, kind and, by kind: ``error`` (what was
measured less what is true), ``half`` (the stated half-width of the 90 % interval), ``phase_s``, or
a flag's ``check, rep, verdict, excess, margin``.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from shared.domain import Rep
from shared.exercise import CheckSpec
from vision.analysis import Analysis
from vision.checks import set_start
from vision.findings import excess

Row = dict[str, Any]
Truth = dict[str, Any]
Arrays = dict[str, np.ndarray]
TIMES = ("start_s", "turn_s", "lower_start_s", "end_s")
#: Where the truth of a check's measure stands in a repetition's truth; sign turns it into our direction.
MEASURES: dict[str, tuple[str, float]] = {
    "knee-lockout": ("max_knee_deg", 1.0),
    "elbow-lockout": ("max_elbow_deg", 1.0),
    "chest-drop": ("trunk_pitch_change_deg", 1.0),
    "lean-back": ("trunk_pitch_change_deg", -1.0),
    "short-range": ("range_share", 100.0),
}


def measure(analysis: Analysis, truth: Truth, arrays: Arrays) -> list[Row]:
    """Every row of one clip."""
    base = {
        "exercise": truth["exercise"],
        "clip": truth["name"],
        "part": truth["part"],
        "conditions": truth["conditions"],
        "view": truth["view"],
    }
    rows = [_fitness(analysis, truth)]
    if truth["fit"] and analysis.report.quality.usable and analysis.reps is not None:
        rows.append({"kind": "count", "error": len(analysis.reps.full) - truth["count"]})
        pairs = match(analysis.reps.reps, truth["reps"])
        rows += _times(pairs) + _ends(analysis, pairs) + _pitch(analysis, arrays)
        rows += _verdicts(analysis, truth, pairs)
    return [base | row for row in rows]


def _fitness(analysis: Analysis, truth: Truth) -> Row:
    codes = [p.code for p in analysis.report.quality.problems]
    right = bool(set(truth["problems"]) & set(codes)) if not truth["fit"] else not codes
    return {"kind": "fit", "fit": truth["fit"], "right": right, "codes": codes, "wanted": truth["problems"]}


def match(found: tuple[Rep, ...], true: list[Row]) -> list[tuple[Rep, Row]]:
    """Pairs that share a turn: each true repetition with the found one nearest to it, within its time."""
    pairs = []
    for row in true:
        near = min(found, key=lambda rep: abs(rep.turn_s - row["turn_s"]), default=None)
        if near is not None and row["start_s"] <= near.turn_s <= row["end_s"]:
            pairs.append((near, row))
    return pairs


def _times(pairs: list[tuple[Rep, Row]]) -> list[Row]:
    rows: list[Row] = []
    for rep, row in pairs:
        for name in TIMES:
            phase = row["lift_s"] if name in TIMES[:2] else row["lower_s"]
            error = getattr(rep, name) - row[name]
            rows.append({"kind": "time", "which": name, "error": error, "phase_s": phase})
        for name in ("lift_s", "lower_s"):
            error = getattr(rep, name) - row[name]
            rows.append({"kind": "duration", "which": name, "error": error, "phase_s": row[name]})
    return rows


def _ends(analysis: Analysis, pairs: list[tuple[Rep, Row]]) -> list[Row]:
    """The drive at both ends, and its change from the set's mean at that end."""
    drive = analysis.signals[analysis.exercise.drive.signal]
    rows: list[Row] = []
    for end, ours, theirs in (
        ("lift", "lift_end_deg", "drive_lift_end_deg"),
        ("down", "load_down_deg", "drive_load_down_deg"),
    ):
        full = [(getattr(rep, ours), row[theirs]) for rep, row in pairs if not row["partial"]]
        if not full:
            continue
        values = np.array(full)
        errors = values[:, 0] - values[:, 1]
        changes = errors - errors.mean()
        half = float(np.hypot(drive.bias, np.nanmedian(drive.noise)))
        for error, change in zip(errors, changes, strict=True):
            rows.append({"kind": "end", "which": end, "error": float(error), "half": half})
            rows.append({"kind": "change", "which": end, "error": float(change)})
    return rows


def _pitch(analysis: Analysis, arrays: Arrays) -> list[Row]:
    signal = analysis.signals.get("trunk")
    if signal is None or signal.unjudgeable or analysis.reps is None:
        return []
    start = set_start(signal, analysis.reps)
    if start is None:
        return []
    inside = (signal.time_s >= analysis.reps.start_s) & (signal.time_s <= analysis.reps.end_s)
    true = np.interp(signal.time_s, arrays["time_s"], arrays["trunk_pitch_deg"])
    ends = [
        np.interp(rep.start_s, arrays["time_s"], arrays["trunk_pitch_deg"]) for rep in analysis.reps.full[:2]
    ]
    errors = ((signal.values - start) - (true - float(np.median(ends))))[inside][::6]
    return [{"kind": "pitch", "error": float(e)} for e in errors if np.isfinite(e)]


def _verdicts(analysis: Analysis, truth: Truth, pairs: list[tuple[Rep, Row]]) -> list[Row]:
    """One row for every finding that belongs to a true repetition or to the set."""
    true_of = {rep.number: row for rep, row in pairs}
    faulty = {(f["check"], f["rep"]) for f in truth["faults"]}
    rows: list[Row] = []
    for finding in analysis.report.findings:
        spec = analysis.exercise.check(finding.check)
        row = true_of.get(finding.rep) if finding.rep is not None else None
        if finding.rep is not None and row is None:
            continue
        number = row["number"] if row else None
        value = true_value(spec, row)
        rows.append(
            {
                "kind": "verdict",
                "check": finding.check,
                "rep": number,
                "verdict": finding.verdict,
                "true": value,
                "measured": finding.measured,
                "half": finding.uncertainty,
                "fault": (finding.check, number) in faulty if row else None,
                "excess": None if value is None else excess(spec, value, False),
                "margin": spec.detect_margin,
                "reason": finding.reason,
            }
        )
    return rows


def true_value(spec: CheckSpec, row: Row | None) -> float | None:
    """The true value of what a check measures on one repetition, None where the truth has none."""
    if row is None:
        return None
    if spec.id == "too-fast":
        return float(min(row["lift_s"], row["lower_s"]))
    if spec.id == "dropped-load":
        return float(row["lower_s"] / row["lift_s"])
    name, sign = MEASURES.get(spec.id, ("", 1.0))
    return sign * float(row["measures"][name]) if name in row["measures"] else None
