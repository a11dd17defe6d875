"""Rows of measured errors -> the table of figures against their targets."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from math import sqrt
from typing import Any

import numpy as np

Row = dict[str, Any]
#: A watch finds these as well: lockouts by the targets, the others are never more than a question.
WATCHED = ("knee-lockout", "elbow-lockout", "stack-rest", "rushed-turn")


@dataclass(frozen=True)
class Figure:
    """One line of the table: value of n, its target, and a 95 % Wilson interval where it is a share."""

    name: str
    value: float
    n: int
    target: str
    met: bool | None
    low: float | None = None
    high: float | None = None


def wilson(hits: int, n: int, z: float = 1.96) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    if n == 0:
        return 0.0, 1.0
    p = hits / n
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return max(0.0, middle - half), min(1.0, middle + half)


def share(name: str, hits: Iterable[bool], target: float, at_least: bool = True) -> Figure:
    """A share against a target."""
    values = list(hits)
    n = len(values)
    value = sum(values) / n if n else float("nan")
    met = None if not n else value >= target if at_least else value <= target
    return Figure(name, value, n, f"{'>=' if at_least else '<='} {target:.0%}", met, *wilson(sum(values), n))


def mean_error(name: str, rows: list[Row], target: float, unit: str) -> Figure:
    """Mean absolute error against a target."""
    errors = np.abs([r["error"] for r in rows])
    value = float(errors.mean()) if len(errors) else float("nan")
    return Figure(
        f"{name}, mean absolute error", value, len(errors), f"<= {target} {unit}", _met(value, target)
    )


def worst_bias(name: str, rows: list[Row], target: float, unit: str) -> Figure:
    """Mean error over clips of each clip's mean error."""
    by_clip = defaultdict(list)
    for row in rows:
        by_clip[row["clip"]].append(row["error"])
    value = float(np.mean([np.mean(v) for v in by_clip.values()])) if by_clip else float("nan")
    return Figure(
        f"{name}, bias over clips", value, len(by_clip), f"within +-{target} {unit}", _met(abs(value), target)
    )


def _met(value: float, target: float) -> bool | None:
    return None if np.isnan(value) else bool(value <= target)


def figures(rows: list[Row]) -> list[Figure]:
    """Every figure of the bench."""
    kind: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        kind[row["kind"]].append(row)
    counts = [r["error"] for r in kind["count"]]
    out = [
        share("repetition count exact", [e == 0 for e in counts], 0.98),
        share("repetition count within 1", [abs(e) <= 1 for e in counts], 1.0),
        *_time_figures(kind["time"], kind["duration"]),
        *_angle_figures(kind["end"], kind["change"], kind["pitch"]),
        *_flag_figures(kind["verdict"]),
        *_coverage(kind),
        share(
            "unfit clips refused with the right reason",
            [r["right"] for r in kind["fit"] if not r["fit"]],
            1.0,
        ),
        share("fit clips refused", [not r["right"] for r in kind["fit"] if r["fit"]], 0.02, at_least=False),
    ]
    return out


def _time_figures(times: list[Row], durations: list[Row]) -> list[Figure]:
    short = [r for r in times if r["phase_s"] <= 4.0]
    long = [{**r, "error": 100 * r["error"] / r["phase_s"]} for r in times if r["phase_s"] > 4.0]
    out = [
        mean_error(f"{w[:-2]} time", [r for r in short if r["which"] == w], 0.10, "s") for w in _which(short)
    ]
    out += [mean_error("times in phases over 4 s", long, 3.0, "% of the phase")] if long else []
    near = [r for r in durations if r["phase_s"] <= 4.0]
    far = [{**r, "error": 100 * r["error"] / r["phase_s"]} for r in durations if r["phase_s"] > 4.0]
    out += [
        mean_error(f"{w[:-2]} duration", [r for r in near if r["which"] == w], 0.12, "s")
        for w in _which(near)
    ]
    return out + ([mean_error("durations over 4 s", far, 3.0, "% of the phase")] if far else [])


def _which(rows: list[Row]) -> list[str]:
    return list(dict.fromkeys(r["which"] for r in rows))


def _angle_figures(ends: list[Row], changes: list[Row], pitch: list[Row]) -> list[Figure]:
    knee = [r for r in ends if r["exercise"].startswith("leg-")]
    elbow = [r for r in ends if r["exercise"] in ("lat-pulldown", "chest-press", "shoulder-press")]
    fly = [r for r in ends if r["exercise"].endswith("fly")]
    near = [r for r in knee if "yaw30" not in r["conditions"]]
    far = [r for r in knee if "yaw30" in r["conditions"]]
    return [
        mean_error("knee at both ends, within 15 degrees of the view", near, 3.0, "deg"),
        worst_bias("knee at both ends, within 15 degrees of the view", near, 1.5, "deg"),
        mean_error("knee at both ends, 30 degrees off the view", far, 5.0, "deg"),
        mean_error("elbow at both ends, pulldown and presses", elbow, 6.0, "deg"),
        mean_error("horizontal arm angle at both ends, flies", fly, 10.0, "deg (no target set)"),
        mean_error("change of an angle between repetitions", changes, 1.5, "deg"),
        mean_error("trunk pitch change", pitch, 2.5, "deg"),
    ]


def _flag_figures(verdicts: list[Row]) -> list[Figure]:
    out = []
    for check in sorted({r["check"] for r in verdicts if r["fault"] is not None}):
        rows = [r for r in verdicts if r["check"] == check and r["fault"] is not None]
        flagged = [r for r in rows if r["verdict"] == "flag"]
        out.append(share(f"{check}: flags that are right", [r["fault"] for r in flagged], 0.95))
        beyond = [r for r in rows if r["fault"] and (r["excess"] or 0.0) >= r["margin"]]
        seen = ("flag", "watch") if check in WATCHED else ("flag",)
        out.append(share(f"{check}: clear faults found", [r["verdict"] in seen for r in beyond], 0.90))
    return out + _clean_figures(verdicts)


def _clean_figures(verdicts: list[Row]) -> list[Figure]:
    clean = [r for r in verdicts if r["fault"] is False]
    faulty_clips = {r["clip"] for r in verdicts if r["fault"]}
    flags: dict[str, int] = {r["clip"]: 0 for r in clean if r["clip"] not in faulty_clips}
    for row in clean:
        if row["clip"] in flags:
            flags[row["clip"]] += row["verdict"] == "flag"
    per_set = sum(flags.values()) / len(flags) if flags else float("nan")
    return [
        share("clean repetitions that are watch", [r["verdict"] == "watch" for r in clean], 0.10, False),
        share(
            "clean repetitions that are cannot-tell",
            [r["verdict"] == "cannot-tell" for r in clean],
            0.10,
            False,
        ),
        Figure("false flags on a clean set, mean", per_set, len(flags), "<= 0.1", _met(per_set, 0.1)),
    ]


def _coverage(kind: dict[str, list[Row]]) -> list[Figure]:
    """Share of true values inside the stated interval: over all, then by exercise."""
    rows = [
        {**r, "inside": abs(r["measured"] - r["true"]) <= r["half"]}
        for r in kind["verdict"]
        if r["true"] is not None and r["measured"] is not None and r["comparable"]
    ]
    rows += [{**r, "inside": abs(r["error"]) <= r["half"]} for r in kind["end"]]
    inside = [r["inside"] for r in rows]
    value = float(np.mean(inside)) if inside else float("nan")
    met = 0.85 <= value <= 0.97 if inside else None
    out = [
        Figure(
            "90 % intervals that hold the truth",
            value,
            len(rows),
            "85 to 97 %",
            met,
            *wilson(sum(inside), len(rows)),
        )
    ]
    for exercise in sorted({r["exercise"] for r in rows}):
        part = [r["inside"] for r in rows if r["exercise"] == exercise]
        out.append(share(f"90 % intervals that hold the truth, {exercise}", part, 0.80))
    return out


def by(rows: list[Row], key: Callable[[Row], str]) -> dict[str, list[Figure]]:
    """The figures of each group of rows."""
    groups = defaultdict(list)
    for row in rows:
        groups[key(row)].append(row)
    return {name: figures(group) for name, group in sorted(groups.items())}


def as_json(found: list[Figure]) -> list[dict[str, Any]]:
    """Figures as plain dicts."""
    return [asdict(f) for f in found]


def as_text(found: list[Figure]) -> str:
    """Figures as a Markdown table, n = 0 left out."""
    lines = ["| figure | measured | 95 % interval | n | target | met |", "|---|---|---|---|---|---|"]
    for f in found:
        if f.n == 0:
            continue
        is_share = f.low is not None
        value = f"{f.value:.1%}" if is_share else f"{f.value:.2f}"
        interval = f"{f.low:.0%} to {f.high:.0%}" if is_share and f.high is not None else ""
        met = "" if f.met is None else "yes" if f.met else "no"
        lines.append(f"| {f.name} | {value} | {interval} | {f.n} | {f.target} | {met} |")
    return "\n".join(lines)
