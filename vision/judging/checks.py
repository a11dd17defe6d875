"""Checks: one function and its registration each. They measure and never judge.

A check gets the whole context and gives one answer for each repetition it concerns, or one for
the set (rep None): a Measurement, or NotMeasured with the reason.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict
from scipy.ndimage import median_filter

from shared.domain import Floats, Measurement, NotMeasured, Rep, RepSet, Signal, Signals, Track
from shared.exercise import CheckSpec, Exercise
from vision.judging.lockout import weigh
from vision.judging.plausible import REASON_CODE, implausible
from vision.measuring.machine import Machine
from vision.measuring.tempo import detrended_cv
from vision.measuring.uncertainty import Z90, change_half_width, duration_half_width

#: Above this share of unknown samples a repetition's part is not measured.
MAX_MISSING_SHARE = 0.2
#: A posture must hold this long to count, so that one bad frame decides nothing.
HELD_S = 0.17
#: About an end of the drive this many seconds belong to it.
END_S = 0.15


@dataclass(frozen=True)
class Context:
    """What a check may look at."""

    track: Track
    signals: Signals
    reps: RepSet
    exercise: Exercise
    machine: Machine | None = None

    def judged(self, spec: CheckSpec) -> tuple[Rep, ...]:
        """The repetitions a check speaks about: full ones, and partial ones where the spec says so."""
        return self.reps.reps if spec.partial else self.reps.full


End = Literal["lift-end", "load-down-end"]


class Params(BaseModel):
    """Parameters of a check; an unknown one is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class NoParams(Params):
    """A check without parameters."""


class PhaseParams(Params):
    """phases: of which the shortest counts."""

    phases: tuple[Literal["lift", "lower"], ...] = ("lift", "lower")


class LowerParams(Params):
    """only_under_s: a lowering that lasts longer was no drop, whatever the lift took."""

    only_under_s: float


class EndParams(Params):
    """end: which end of the drive; which: the largest or the smallest value there."""

    end: End
    which: Literal["max", "min"] = "max"


class ChangeParams(Params):
    """direction: up when a growing signal is the fault, down when a shrinking one is."""

    direction: Literal["up", "down"]


Answer = Measurement | NotMeasured
CheckFn = Callable[[Context, CheckSpec, Any], Iterable[Answer]]
CHECKS: dict[str, tuple[CheckFn, type[Params]]] = {}


def check(measure: str, params: type[Params] = NoParams) -> Callable[[CheckFn], CheckFn]:
    """Register a check under the name definitions use."""

    def register(function: CheckFn) -> CheckFn:
        CHECKS[measure] = (function, params)
        return function

    return register


@check("rep_count")
def rep_count(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """The number of full repetitions; certain as far as the set was seen throughout."""
    yield Measurement(None, float(len(ctx.reps.full)), 0.0, "reps", None)


@check("phase_duration", PhaseParams)
def phase_duration(ctx: Context, spec: CheckSpec, params: PhaseParams) -> Iterable[Answer]:
    """Seconds of the shortest named phase of each repetition."""
    for rep in ctx.judged(spec):
        phases = {"lift": (rep.lift_s, rep.start_s), "lower": (rep.lower_s, rep.lower_start_s)}
        seconds, at_s = min(phases[p] for p in params.phases)
        yield Measurement(
            rep.number, seconds, duration_half_width(ctx.exercise.name), "s", at_s + seconds / 2
        )


@check("lower_over_lift", LowerParams)
def lower_over_lift(ctx: Context, spec: CheckSpec, params: LowerParams) -> Iterable[Answer]:
    """Lowering over lifting time; the probability also weighs that the lowering was short at all.

    The uncertainty is that of a ratio at the limit.
    """
    limit = spec.limit.resolved(False)[0] or 0.0
    sd = duration_half_width(ctx.exercise.name) / Z90
    for rep in ctx.judged(spec):
        ratio = rep.lower_s / max(rep.lift_s, 1e-6)
        spread = float(np.hypot(sd, limit * sd))
        dropped = NormalDist(0.0, spread).cdf(limit * rep.lift_s - rep.lower_s)
        short = NormalDist(0.0, sd).cdf(params.only_under_s - rep.lower_s)
        half = Z90 * spread / max(rep.lift_s, 1e-6)
        middle = rep.lower_start_s + rep.lower_s / 2
        yield Measurement(rep.number, ratio, half, "ratio", middle, probability=dropped * short)


@check("duration_spread")
def duration_spread(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Coefficient of variation (%) of repetition durations after removing the straight-line trend.

    It describes this set, so only the timing error makes it uncertain.
    """
    durations = np.array([r.duration_s for r in ctx.reps.full])
    if len(durations) < 4:
        yield NotMeasured(None, "fewer than four full repetitions", "too-few-reps")
        return
    cv = detrended_cv(durations)
    half = (
        100.0
        * duration_half_width(ctx.exercise.name)
        / float(durations.mean())
        / float(np.sqrt(len(durations) - 2))
    )
    yield Measurement(None, cv, half, "%", None)


@check("range_share")
def range_share(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Each repetition's range in % of the usual range."""
    half = 100.0 * change_half_width("deg", ctx.track) / ctx.reps.usual_range
    drive = ctx.signals[ctx.exercise.drive.signal]
    for rep in ctx.judged(spec):
        yield Measurement(rep.number, 100.0 * rep.range_share, half, "%", rep.turn_s, drive.points)


@check("angle_at_end", EndParams)
def angle_at_end(ctx: Context, spec: CheckSpec, params: EndParams) -> Iterable[Answer]:
    """Largest or smallest value of a signal at one end of each repetition.

    A load-down end belongs to the repetition that reaches it; the first repetition answers for the
    end it starts from as well. The largest angle of a knee or elbow is weighed as a lockout.
    """
    answers = [value_at_end(ctx, spec, params, rep) for rep in ctx.judged(spec)]
    limit = spec.limit.resolved(False)[1]
    joint = _joint(ctx, spec)
    if params.which == "max" and limit is not None and joint in ("knee", "elbow"):
        found = [a for a in answers if isinstance(a, Measurement)]
        weighed = iter(weigh(found, limit, joint))
        answers = [next(weighed) if isinstance(a, Measurement) else a for a in answers]
    return answers


def value_at_end(ctx: Context, spec: CheckSpec, params: EndParams, rep: Rep) -> Answer:
    """Largest or smallest held value of the check's signal at one end of a repetition."""
    signal = ctx.signals[spec.signal or ""]
    sign = 1.0 if params.which == "max" else -1.0
    parts = [signal.between(*w) for w in end_windows(rep, ctx.reps, params.end)]
    found = [e for p in parts if (e := extreme(p, sign)) is not None]
    if not found:
        return NotMeasured(rep.number, "the limb was hidden at this end", "limb-hidden")
    value, at_s, noise = max(found, key=lambda f: sign * f[0])
    half = float(np.hypot(signal.bias, noise))
    if why := implausible(_joint(ctx, spec), value, half):
        return NotMeasured(rep.number, why, REASON_CODE)
    return Measurement(rep.number, value, half, signal.unit, at_s, signal.points)


def _joint(ctx: Context, spec: CheckSpec) -> str | None:
    return ctx.exercise.signals[spec.signal or ""].params.get("joint")


def end_windows(rep: Rep, reps: RepSet, end: str) -> list[tuple[float, float]]:
    """From when to when (s) a repetition is at an end of the drive; the first one starts at one as well."""
    if end == "lift-end":
        return [(rep.turn_s - END_S, rep.lower_start_s + END_S)]
    windows = [(rep.end_s - END_S, rep.end_s + max(END_S, rep.rest_s or 0.0))]
    if rep is reps.reps[0]:
        windows.append((rep.start_s - END_S, rep.start_s + END_S))
    return windows


@check("change_from_start", ChangeParams)
def change_from_start(ctx: Context, spec: CheckSpec, params: ChangeParams) -> Iterable[Answer]:
    """Largest held change of a signal from the set's own start, positive in the named direction.

    The start is the median over the load-down ends of the first two full repetitions.
    """
    signal = ctx.signals[spec.signal or ""]
    start = set_start(signal, ctx.reps)
    sign = 1.0 if params.direction == "up" else -1.0
    for rep in ctx.judged(spec):
        part = signal.between(rep.start_s, rep.end_s)
        found = extreme(part, sign)
        if start is None or found is None:
            yield NotMeasured(
                rep.number, "the body was hidden for too much of this repetition", "limb-hidden"
            )
            continue
        value, at_s, noise = found
        half = float(np.hypot(change_half_width(signal.unit, ctx.track), noise))
        yield Measurement(rep.number, sign * (value - start), half, signal.unit, at_s, signal.points)


def set_start(signal: Signal, reps: RepSet) -> float | None:
    """Median of a signal over the load-down ends of the first two full repetitions."""
    ends = [signal.between(r.start_s - END_S, r.start_s + END_S).values for r in reps.full[:2]]
    values = np.concatenate(ends) if ends else np.empty(0)
    values = values[~np.isnan(values)]
    return float(np.median(values)) if len(values) else None


def extreme(part: Signal, sign: float) -> tuple[float, float, float] | None:
    """Value, moment (s) and noise of the largest (sign +1) or smallest (-1) held value."""
    if part.missing_share > MAX_MISSING_SHARE:
        return None
    held = _held(part)
    i = int(np.argmax(sign * held))
    noise = part.noise[~np.isnan(part.noise)]
    return float(held[i]), float(part.time_s[i]), float(np.median(noise)) if len(noise) else float("nan")


def _held(part: Signal) -> Floats:
    """Running median over HELD_S, unknown samples bridged."""
    known = ~np.isnan(part.values)
    values = np.interp(part.time_s, part.time_s[known], part.values[known])
    if len(values) < 2:
        return values
    width = 2 * round(HELD_S / float(part.time_s[1] - part.time_s[0]) / 2) + 1
    return np.asarray(median_filter(values, size=min(width, len(values)), mode="nearest"))
