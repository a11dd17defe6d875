"""A later set against one that the trainer approved: every drift beyond what can be measured.

Both sets are compared through what their reports and signals hold, median against median. A drift
is named when it is larger than the half-width of the 90 % interval of the difference, which joins
what each clip may be off by and how much the repetitions of each set scatter.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shared.columns import column_of
from shared.domain import Floats, Signal, Signals, Unit, ViewName
from shared.exercise import Exercise
from shared.report import DriftPart, ReferencePart, RepPart
from vision.common.quantities import give_or_take, number, quantity
from vision.judging.approved import Reference, Trace, full_reps, ranges
from vision.measuring.learnt.uncertainty import CHANGE_DEG, Z90

#: Points of each phase's path, and how far two paths may be shifted against each other.
PHASE_POINTS, WARP_POINTS = 21, 2
#: Paths differ by at least this share (%) of the range before it means anything: landmark noise.
SHAPE_FLOOR = 2.0
#: About the beginning of a repetition these seconds show the posture it starts from.
START_S = 0.15
#: Standard error of a median over that of a mean, for normal scatter.
_MEDIAN = 1.2533


@dataclass(frozen=True)
class Quantity:
    """One thing to compare, repetition by repetition; half: what a difference of two clips is off by."""

    what: str
    title: str
    unit: Unit
    then: Sequence[float]
    now: Sequence[float]
    half: float


def compare(
    reference: Reference,
    reps: Sequence[RepPart],
    signals: Signals,
    exercise: Exercise,
    *,
    phase_half_s: float,
    view: ViewName,
    model: str,
) -> ReferencePart:
    """The drifts of a judged set's counted repetitions from the approved one, and what could not be compared.

    phase_half_s: what one lift or lower may be off by; view, model: from where this set was filmed, and what
    gave its landmarks.
    """
    notes = []
    then = full_reps(reference.report)
    same_view = reference.filmed_like(view)
    quantities = _tempo(then, reps, 2.0**0.5 * phase_half_s)
    if same_view:
        quantities += _drive(then, reps, drive=signals[exercise.drive.signal], exercise=exercise)
        quantities += _posture(reference, reps, signals=signals, exercise=exercise)
    else:
        notes.append("The approved set was filmed from another view: only tempo is compared.")
    drifts = [drift for q in quantities if (drift := _drift(q)) is not None]
    if not reference.traces:
        notes.append("No signals.csv lies beside the approved report: posture and path are not compared.")
    elif same_view:
        drifts += _shape(reference, reps, signals=signals, exercise=exercise)
    if reference.report.versions.get("model") != model:
        notes.append("The approved set was measured with another landmark model: angles may differ.")
    return ReferencePart(clip=reference.report.clip.file, drifts=drifts, notes=notes)


def _tempo(a: Sequence[RepPart], b: Sequence[RepPart], half: float) -> list[Quantity]:
    return [
        Quantity(
            "lift",
            "time of the lift",
            unit="s",
            then=[r.lift_s for r in a],
            now=[r.lift_s for r in b],
            half=half,
        ),
        Quantity(
            "lower",
            "time of the lower",
            unit="s",
            then=[r.lower_s for r in a],
            now=[r.lower_s for r in b],
            half=half,
        ),
    ]


def _drive(a: Sequence[RepPart], b: Sequence[RepPart], drive: Signal, exercise: Exercise) -> list[Quantity]:
    """Range and both ends; the two clips' biases are independent, and partly cancel in a range."""
    largest = ([r.drive_max_deg for r in a], [r.drive_max_deg for r in b])
    smallest = ([r.drive_min_deg for r in a], [r.drive_min_deg for r in b])
    lift, down = (largest, smallest) if exercise.drive.lift == "rising" else (smallest, largest)
    moment = drive.moment_half[~np.isnan(drive.moment_half)]
    own = math.hypot(drive.clip_half, float(np.median(moment)) if len(moment) else 0.0)
    if drive.unit != "deg":
        return []
    return [
        Quantity("range", "range", unit="deg", then=ranges(a), now=ranges(b), half=2.0**0.5 * CHANGE_DEG),
        Quantity("lift-end", f"{drive.name} angle at the lift end", "deg", *lift, 2.0**0.5 * own),
        Quantity("load-down-end", f"{drive.name} angle at the load-down end", "deg", *down, 2.0**0.5 * own),
    ]


def _posture(then: Reference, now: Sequence[RepPart], signals: Signals, exercise: Exercise) -> list[Quantity]:
    """For every other angle: where repetitions start, and how far they lead away from the set's start."""
    out = []
    for name, signal in signals.items():
        before = then.traces.get(column_of(name, "deg"))
        if name == exercise.drive.signal or signal.unit != "deg" or signal.unjudgeable or before is None:
            continue
        starts_then, moves_then = _starts_and_moves(before, full_reps(then.report))
        starts_now, moves_now = _starts_and_moves(Trace(signal.time_s, signal.values), now)
        title = f"{name} angle"
        out += [
            Quantity(f"{name}-start", f"{title} at the start of the repetitions", unit="deg",
                     then=starts_then, now=starts_now, half=2.0**0.5 * signal.clip_half),
            Quantity(f"{name}-move", f"change of the {title} within the repetitions", unit="deg",
                     then=moves_then, now=moves_now, half=2.0**0.5 * CHANGE_DEG),
        ]  # fmt: skip
    return out


def _starts_and_moves(trace: Trace, reps: Sequence[RepPart]) -> tuple[list[float], list[float]]:
    starts, moves = [], []
    for rep in reps:
        start = trace.between(rep.start_s - START_S, rep.start_s + START_S)
        inside = trace.between(rep.start_s, rep.end_s)
        if len(start) and len(inside):
            starts.append(float(np.median(start)))
            moves.append(float(np.percentile(np.abs(inside - starts[-1]), 95)))
    return starts, moves


def _scatter(values: Sequence[float]) -> float:
    """90 % half-width of a median from the scatter of its values."""
    if len(values) < 2:
        return 0.0
    return Z90 * _MEDIAN * float(np.std(values, ddof=1)) / math.sqrt(len(values))


def _drift(q: Quantity) -> DriftPart | None:
    """The drift, or None when it is no larger than its uncertainty or there is nothing to compare."""
    if not len(q.then) or not len(q.now):
        return None
    then, now = float(np.median(q.then)), float(np.median(q.now))
    half = math.hypot(q.half, _scatter(q.then), _scatter(q.now))
    if not abs(now - then) > half:
        return None
    word = "more" if now > then else "less"
    text = (
        f"Not as in the approved set: {q.title} {quantity(abs(now - then), q.unit)} {word}, "
        f"{quantity(now, q.unit)} now and {number(then, q.unit)} then ({give_or_take(half, q.unit)})."
    )
    return _part(q.what, then, now=now, half=half, unit=q.unit, text=text)


def _part(what: str, then: float, now: float, half: float, unit: Unit, text: str) -> DriftPart:
    then, now, half = (round(v, 4) for v in (then, now, half))
    return DriftPart(what=what, then=then, now=now, uncertainty=half, unit=unit, text=text)


def _shape(then: Reference, now: Sequence[RepPart], signals: Signals, exercise: Exercise) -> list[DriftPart]:
    """Whether the usual path left the approved one by more than half of that set leaves the other half."""
    drive = signals[exercise.drive.signal]
    column = then.traces.get(column_of(drive.name, drive.unit))
    paths_then = _paths(column, full_reps(then.report)) if column else []
    paths_now = _paths(Trace(drive.time_s, drive.values), now)
    if len(paths_then) < 4 or len(paths_now) < 2:
        return []
    usual, later, first, second = (
        np.median(paths, axis=0) for paths in (paths_then, paths_now, paths_then[::2], paths_then[1::2])
    )
    before = 100.0 * warp_distance(first, second, WARP_POINTS)
    after, half = 100.0 * warp_distance(later, usual, WARP_POINTS), SHAPE_FLOOR
    if after - before <= half:
        return []
    text = (
        f"Not as in the approved set: the movement takes another path, {quantity(after, '%')} of the range "
        f"away from it; within that set {quantity(before, '%')} is usual ({give_or_take(half, '%')})."
    )
    return [_part("shape", before, now=after, half=half, unit="%", text=text)]


def _paths(trace: Trace, reps: Sequence[RepPart]) -> list[Floats]:
    """Lift and lower of each repetition over their own time and range, (2 PHASE_POINTS,) from 0 to 1.

    Each phase has its own clock, so that tempo is no part of the shape; hidden repetitions are left out.
    """
    out = []
    known = ~np.isnan(trace.values)
    for rep in reps:
        phases = ((rep.start_s, rep.turn_s), (rep.lower_start_s, rep.end_s))
        clock = np.concatenate([np.linspace(*phase, PHASE_POINTS) for phase in phases])
        inside = (trace.time_s >= rep.start_s) & (trace.time_s <= rep.end_s)
        if not inside.any() or (inside & known).sum() < 0.8 * inside.sum():
            continue
        path = np.interp(clock, trace.time_s[known], trace.values[known])
        size = float(np.ptp(path))
        if size > 0:
            out.append((path - path.min()) / size)
    return out


def warp_distance(a: Floats, b: Floats, reach: int) -> float:
    """Dynamic time warping of two paths of one length: root mean square along the best alignment.

    Points may be shifted against each other by up to ``reach``.
    """
    n = len(a)
    total = np.full((n + 1, n + 1), np.inf)
    steps = np.zeros((n + 1, n + 1))
    total[0, 0] = 0.0
    for i in range(1, n + 1):
        for j in range(max(1, i - reach), min(n, i + reach) + 1):
            before = min(((i - 1, j - 1), (i - 1, j), (i, j - 1)), key=lambda at: total[at])
            total[i, j] = (a[i - 1] - b[j - 1]) ** 2 + total[before]
            steps[i, j] = steps[before] + 1
    return float(np.sqrt(total[n, n] / steps[n, n]))
