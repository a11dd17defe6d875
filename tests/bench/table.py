"""Rows of measured errors -> the table of figures against their targets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.bench.targets import target_of, words

Row = dict[str, Any]
#: A watch finds these as well: lockouts by the targets, the others are never more than a question.
WATCHED = ("knee-lockout", "elbow-lockout", "stack-rest", "rushed-turn")
RESAMPLES = 2000
SHARE = "share"


@dataclass(frozen=True)
class Figure:
    """One line of the table: value of n in its unit, and the 95 % interval over people like these.

    low, high: None where the bodies are too few, or too much alike, to tell.
    """

    name: str
    value: float
    n: int
    unit: str
    low: float | None = None
    high: float | None = None

    @property
    def met(self) -> bool | None:
        """Whether the target is met; None where none was set, or nothing was measured."""
        target = target_of(self.name)
        return None if target is None or not self.n else target.met(self.value)


def over_bodies(values: Sequence[float], bodies: Sequence[object]) -> tuple[float, float] | tuple[None, None]:
    """95 % interval of a mean over people like those measured: whole bodies are drawn anew.

    Repetitions of one body are alike, so drawing single ones would promise too much (cluster
    bootstrap: Davison and Hinkley 1997, from memory). (None, None) under three bodies, or where no draw
    differs from another.
    """
    sums: dict[object, tuple[float, int]] = {}
    for value, body in zip(values, bodies, strict=True):
        total, n = sums.get(body, (0.0, 0))
        sums[body] = (total + value, n + 1)
    if len(sums) < 3:
        return None, None
    each = np.array([sums[body] for body in sums])
    drawn = np.random.default_rng(0).integers(0, len(each), (RESAMPLES, len(each)))
    totals = each[drawn].sum(axis=1)
    low, high = np.percentile(totals[:, 0] / totals[:, 1], [2.5, 97.5])
    return (None, None) if low == high else (float(low), float(high))


def mean(name: str, rows: Sequence[Row], of: Callable[[Row], float], unit: str = SHARE) -> Figure:
    """The mean of what ``of`` makes of each row."""
    values = [float(of(row)) for row in rows]
    value = float(np.mean(values)) if values else float("nan")
    return Figure(name, value, len(values), unit, *over_bodies(values, [row["body"] for row in rows]))


def mean_error(name: str, rows: Sequence[Row], unit: str) -> Figure:
    """Mean absolute error."""
    return mean(f"{name}, mean absolute error", rows, lambda r: abs(r["error"]), unit)


def clip_bias(name: str, rows: Sequence[Row], unit: str) -> Figure:
    """Mean error over clips of each clip's mean error."""
    errors: dict[str, list[float]] = defaultdict(list)
    for row in rows:
        errors[row["clip"]].append(row["error"])
    bodies = {row["clip"]: row["body"] for row in rows}
    clips = [{"body": bodies[clip], "bias": float(np.mean(values))} for clip, values in errors.items()]
    return mean(f"{name}, bias over clips", clips, lambda c: c["bias"], unit)


def figures(rows: Sequence[Row]) -> list[Figure]:
    """Every figure of the bench."""
    kind: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        kind[row["kind"]].append(row)
    unfit, fit = ([r for r in kind["fit"] if r["fit"] is wanted] for wanted in (False, True))
    return [
        mean("repetition count exact", kind["count"], lambda r: r["error"] == 0),
        mean("repetition count within 1", kind["count"], lambda r: abs(r["error"]) <= 1),
        *_time_figures(kind["time"], kind["duration"]),
        *_angle_figures(kind["end"], kind["change"], kind["pitch"]),
        *_flag_figures(kind["verdict"]),
        *_coverage(kind),
        mean("unfit clips refused with the right reason", unfit, lambda r: r["right"]),
        mean("fit clips refused", fit, lambda r: not r["right"]),
    ]


def _time_figures(times: list[Row], durations: list[Row]) -> list[Figure]:
    return [
        *_phase_figures(times, "time", "times in phases over 4 s"),
        *_phase_figures(durations, "duration", "durations over 4 s"),
    ]


def _phase_figures(rows: list[Row], word: str, long_ones: str) -> list[Figure]:
    """Errors in s by which of them it is; those of phases over 4 s together, in per cent of the phase."""
    short: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        if row["phase_s"] <= 4.0:
            short[row["which"]].append(row)
    long = [{**r, "error": 100 * r["error"] / r["phase_s"]} for r in rows if r["phase_s"] > 4.0]
    out = [mean_error(f"{which.removesuffix('_s')} {word}", part, "s") for which, part in short.items()]
    return [*out, mean_error(long_ones, long, "% of the phase")]


def _angle_figures(ends: list[Row], changes: list[Row], pitch: list[Row]) -> list[Figure]:
    knee = [r for r in ends if r["exercise"].startswith("leg-")]
    elbow = [r for r in ends if r["exercise"] in ("lat-pulldown", "chest-press", "shoulder-press")]
    fly = [r for r in ends if r["exercise"].endswith("fly")]
    near = [r for r in knee if "yaw30" not in r["conditions"]]
    far = [r for r in knee if "yaw30" in r["conditions"]]
    return [
        mean_error("knee at both ends, within 15 degrees of the view", near, "deg"),
        clip_bias("knee at both ends, within 15 degrees of the view", near, "deg"),
        mean_error("knee at both ends, 30 degrees off the view", far, "deg"),
        mean_error("elbow at both ends, pulldown and presses", elbow, "deg"),
        mean_error("horizontal arm angle at both ends, flies", fly, "deg"),
        mean_error("change of an angle between repetitions", changes, "deg"),
        mean_error("trunk pitch change", pitch, "deg"),
    ]


def _flag_figures(verdicts: list[Row]) -> list[Figure]:
    out = []
    for check in sorted({r["check"] for r in verdicts if r["fault"] is not None}):
        rows = [r for r in verdicts if r["check"] == check and r["fault"] is not None]
        flagged = [r for r in rows if r["verdict"] == "flag"]
        out.append(mean(f"{check}: flags that are right", flagged, lambda r: r["fault"]))
        beyond = [r for r in rows if r["fault"] and (r["excess"] or 0.0) >= r["margin"]]
        seen = ("flag", "watch") if check in WATCHED else ("flag",)
        out.append(mean(f"{check}: clear faults found", beyond, lambda r, seen=seen: r["verdict"] in seen))
    return out + _clean_figures(verdicts)


def _clean_figures(verdicts: list[Row]) -> list[Figure]:
    clean = [r for r in verdicts if r["fault"] is False]
    faulty_clips = {r["clip"] for r in verdicts if r["fault"]}
    sets: dict[str, Row] = {}
    for row in clean:
        if row["clip"] not in faulty_clips:
            one = sets.setdefault(row["clip"], {"body": row["body"], "flags": 0})
            one["flags"] += row["verdict"] == "flag"
    return [
        mean("clean repetitions that are watch", clean, lambda r: r["verdict"] == "watch"),
        mean("clean repetitions that are cannot-tell", clean, lambda r: r["verdict"] == "cannot-tell"),
        mean("false flags on a clean set, mean", list(sets.values()), lambda s: s["flags"], "flags"),
    ]


def _coverage(kind: dict[str, list[Row]]) -> list[Figure]:
    """Share of true values inside the stated interval: over all, then by exercise."""
    rows = [
        {**r, "inside": abs(r["measured"] - r["true"]) <= r["half"]}
        for r in kind["verdict"]
        if r["true"] is not None and r["measured"] is not None and r["comparable"]
    ]
    rows += [{**r, "inside": abs(r["error"]) <= r["half"]} for r in kind["end"]]
    name = "90 % intervals that hold the truth"
    out = [mean(name, rows, lambda r: r["inside"])]
    for exercise in sorted({r["exercise"] for r in rows}):
        part = [r for r in rows if r["exercise"] == exercise]
        out.append(mean(f"{name}, {exercise}", part, lambda r: r["inside"]))
    return out


def by(rows: Sequence[Row], key: Callable[[Row], str]) -> dict[str, list[Figure]]:
    """The figures of each group of rows."""
    groups = defaultdict(list)
    for row in rows:
        groups[key(row)].append(row)
    return {name: figures(group) for name, group in sorted(groups.items())}


def as_json(found: Sequence[Figure]) -> list[dict[str, Any]]:
    """Figures that were measured, as plain dicts."""
    out = []
    for figure in found:
        target = target_of(figure.name)
        said = {"target": words(target) if target else None, "met": figure.met}
        out.append({**vars(figure), **said})
    return [entry for entry in out if entry["n"]]


def as_text(found: Sequence[Figure]) -> str:
    """Figures that were measured, as a Markdown table."""
    lines = ["| figure | measured | 95 % over bodies | n | target | met |", "|---|---|---|---|---|---|"]
    for entry in as_json(found):
        name, unit, target = entry["name"], entry["unit"], entry["target"] or ""
        met = {True: "yes", False: "no", None: ""}[entry["met"]]
        value = f"{entry['value']:.1%}" if unit == SHARE else f"{entry['value']:.2f} {unit}"
        spread = ""
        if entry["low"] is not None:
            form = "{:.1%} to {:.1%}" if unit == SHARE else "{:.2f} to {:.2f}"
            spread = form.format(entry["low"], entry["high"])
        lines.append(f"| {name} | {value} | {spread} | {entry['n']} | {target} | {met} |")
    return "\n".join(lines)
