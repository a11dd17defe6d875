"""Checks that need the whole set: what lets go at its end, what creeps over it, how the ends are taken."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import NormalDist

import numpy as np
from scipy.stats import theilslopes

from shared.domain import Measurement, NotMeasured, Rep, Signal
from shared.exercise import CheckSpec
from vision.judging.checks import CHECKS, END_S, Answer, Context, NoParams, Params, check, set_start
from vision.measuring.tempo import FEWEST_REPS, late_over_early
from vision.measuring.uncertainty import Z90, change_half_width, duration_half_width, in_unit

#: A measure that can only raise a question never reaches the probability of a flag.
MOST_FOR_A_QUESTION = 0.89
#: Half-width of a creep over the set in trunk lengths: 29 tuning clips.
CREEP_TRUNK = 0.035
#: A turn's deceleration is looked for this near to the load-down end, over a tenth of a second.
TURN_WINDOW_S, TURN_OVER_S = 0.3, 0.1
#: Half-width of the ratio of one turn's deceleration to the usual one, by exercise and otherwise.
TURN_HALF = {"leg-curl": 1.3}
USUAL_TURN_HALF = 1.0
TOO_FEW = f"fewer than {FEWEST_REPS} repetitions: the last three cannot be held against the first half"


class PostureParams(Params):
    """checks: the faults of posture that count."""

    checks: tuple[str, ...]


@check("late_range")
def late_range(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Range of the last three repetitions in % of the set's first half (medians)."""
    reps = ctx.reps.reps
    share = late_over_early([r.range_share for r in reps])
    if share is None:
        yield NotMeasured(None, TOO_FEW, "too-few-reps")
        return
    half = 100.0 * change_half_width("deg", ctx.track) / ctx.reps.usual_range
    points = ctx.signals[ctx.exercise.drive.signal].points
    note = _since(reps, [r.range_share for r in reps], 100.0 * share, spec)
    yield Measurement(None, 100.0 * share, half, "%", reps[-1].turn_s, points, note=note)


@check("late_tempo")
def late_tempo(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Lift plus lower of the last three repetitions in % of the set's first half (medians)."""
    reps = ctx.reps.full
    moving = [r.lift_s + r.lower_s for r in reps]
    share = late_over_early(moving)
    if share is None:
        yield NotMeasured(None, TOO_FEW, "too-few-reps")
        return
    half = (
        100.0
        * 2.0**0.5
        * duration_half_width(ctx.exercise.name)
        / float(np.median(moving[: len(moving) // 2]))
    )
    note = _since(reps, moving, 100.0 * share, spec)
    yield Measurement(None, 100.0 * share, half, "%", reps[-1].turn_s, note=note)


def _since(reps: tuple[Rep, ...], values: list[float], share: float, spec: CheckSpec) -> str:
    """``from repetition 9 on``: the first from which all lie under the limit; empty within it."""
    limit = spec.limit.resolved(False)[0] or 0.0
    if share >= limit:
        return ""
    usual = float(np.median(values[: len(values) // 2]))
    first = len(reps) - 1
    while first > 0 and 100.0 * values[first - 1] / usual < limit:
        first -= 1
    return f"from repetition {reps[first].number} on"


@check("late_posture", PostureParams)
def late_posture(ctx: Context, spec: CheckSpec, params: PostureParams) -> Iterable[Answer]:
    """In how many of the last three repetitions the posture went; as sure as the second surest of them."""
    last = ctx.reps.full[-3:]
    if len(ctx.reps.full) < FEWEST_REPS:
        yield NotMeasured(None, TOO_FEW, "too-few-reps")
        return
    likely = _gone(ctx, params.checks)
    gone = {rep.number: likely.get(rep.number, float("nan")) for rep in last}
    worst = list(gone.values())
    if np.isnan(worst).any():
        yield NotMeasured(None, "the body was hidden in one of the last three repetitions", "limb-hidden")
        return
    second = float(np.sort(worst)[-2])
    numbers = [n for n, p in zip(gone, worst, strict=True) if p >= 0.5]
    note = f"from repetition {numbers[0]} on" if len(numbers) > 1 else ""
    yield Measurement(None, float(len(numbers)), 0.5, "reps", last[-1].turn_s, probability=second, note=note)


def _gone(ctx: Context, ids: tuple[str, ...]) -> dict[int, float]:
    """By repetition, the largest probability that one of the named checks finds its fault.

    NaN where one of them could not be measured and no other found anything.
    """
    in_cm = ctx.track.cm_per_px is not None
    largest: dict[int, float] = {}
    for spec in ctx.exercise.checks:
        if spec.id not in ids or (spec.signal is not None and ctx.signals[spec.signal].unjudgeable):
            continue
        function, model = CHECKS[spec.measure]
        for answer in function(ctx, spec, model.model_validate(spec.params)):
            found = float("nan")
            if isinstance(answer, Measurement):
                found = _probability(answer, spec.limit.resolved(in_cm)[1] or 0.0)
            before = largest.get(answer.rep or 0, 0.0)
            largest[answer.rep or 0] = _larger(before, found)
    return largest


def _larger(a: float, b: float) -> float:
    """The larger of two probabilities; one that is not known leaves only what is likely anyway."""
    if np.isnan(a) or np.isnan(b):
        known = a if np.isnan(b) else b
        return known if known >= 0.5 else float("nan")
    return max(a, b)


def _probability(found: Measurement, at_most: float) -> float:
    if found.probability is not None:
        return found.probability
    return NormalDist(at_most, max(found.uncertainty, 1e-6) / Z90).cdf(found.value)


@check("creep")
def creep(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """How far a signal moves over the whole set, by a straight line through its load-down ends.

    The line is that of Theil and Sen (scipy), which single repetitions do not pull.
    """
    signal = ctx.signals[spec.signal or ""]
    times, values = [], []
    for rep in ctx.reps.full:
        for at_s in (rep.start_s, rep.end_s):
            part = signal.between(at_s - END_S, at_s + END_S).values
            if len(part) and not np.isnan(part).all():
                times.append(at_s)
                values.append(float(np.nanmedian(part)))
    if len(times) < 2 * FEWEST_REPS:
        yield NotMeasured(None, "too few load-down ends were seen to follow it over the set", "too-few-reps")
        return
    slope = float(theilslopes(values, times).slope)
    half = in_unit(CREEP_TRUNK, ctx.track, signal.unit)
    moved = slope * (ctx.reps.end_s - ctx.reps.start_s)
    yield Measurement(None, moved, half, signal.unit, ctx.reps.full[-1].end_s, signal.points)


@check("rest_at_load_down")
def rest_at_load_down(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Seconds without movement at the load-down end before the next repetition.

    From the drive alone a rest on the stack and a pause just above it look the same, so it is at most
    a question.
    """
    limit = spec.limit.resolved(False)[1] or 0.0
    points = ctx.signals[ctx.exercise.drive.signal].points
    for rep in ctx.judged(spec):
        if rep.rest_s is None:
            continue
        beyond = NormalDist(limit, duration_half_width(ctx.exercise.name) / Z90).cdf(rep.rest_s)
        middle = rep.end_s + rep.rest_s / 2
        yield Measurement(
            rep.number, rep.rest_s, duration_half_width(ctx.exercise.name), "s", middle, points,
            min(beyond, MOST_FOR_A_QUESTION),
            "a pause just above the stack looks the same" if beyond >= 0.5 else "",
        )  # fmt: skip


@check("at_start")
def at_start(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """A signal at the set's start, for the trainer: its own value, which no later change shows.

    It is at most a question.
    """
    signal = ctx.signals[spec.signal or ""]
    value = set_start(signal, ctx.reps)
    if value is None:
        yield NotMeasured(None, "the body was hidden at the start of the set", "limb-hidden")
        return
    first = ctx.reps.full[0].start_s
    low, high = spec.limit.resolved(ctx.track.cm_per_px is not None)
    sd = signal.bias / Z90
    over = 0.0 if high is None else NormalDist(high, sd).cdf(value)
    under = 0.0 if low is None else 1.0 - NormalDist(low, sd).cdf(value)
    probability = min(max(over, under), MOST_FOR_A_QUESTION)
    yield Measurement(None, value, signal.bias, signal.unit, first, signal.points, probability)


class TurnParams(Params):
    """longest_rest_s: a longer rest at the load-down end is no rushed turn, however hard it began."""

    longest_rest_s: float


@check("turn_deceleration", TurnParams)
def turn_deceleration(ctx: Context, spec: CheckSpec, params: TurnParams) -> Iterable[Answer]:
    """Hardest deceleration at the load-down turn over the median of the set's turns.

    Ten looks a second show a hard turn, not how hard: it is at most a question.
    """
    drive = ctx.signals[ctx.exercise.drive.signal]
    turns = {r.number: (r, _deceleration(drive, r.end_s)) for r in ctx.judged(spec) if r.rest_s is not None}
    known = [found[0] for _, found in turns.values() if found is not None]
    if len(known) < FEWEST_REPS - 1:
        yield NotMeasured(None, "too few turns at the load-down end were seen to be compared", "too-few-reps")
        return
    usual = float(np.median(known))
    half = TURN_HALF.get(ctx.exercise.name, USUAL_TURN_HALF)
    most = spec.limit.resolved(False)[1] or 0.0
    for number, (rep, found) in turns.items():
        if found is None:
            yield NotMeasured(number, "the turn at the load-down end could not be seen", "limb-hidden")
            continue
        ratio = found[0] / usual
        rushed = (rep.rest_s or 0.0) <= params.longest_rest_s
        beyond = NormalDist(most, half / Z90).cdf(ratio)
        yield Measurement(
            number, ratio, half, "ratio", found[1], drive.points,
            min(beyond, MOST_FOR_A_QUESTION) if rushed else 0.0,
            "" if rushed else f"with a rest of {rep.rest_s:.1f} s there",
        )  # fmt: skip


def _deceleration(drive: Signal, at_s: float) -> tuple[float, float] | None:
    """Largest change of speed over a tenth of a second about a moment (drive units/s2), and when."""
    part = drive.between(at_s - TURN_WINDOW_S, at_s + TURN_WINDOW_S)
    if part.missing_share > 0.0 or len(part.values) < 2 * TURN_WINDOW_S / TURN_OVER_S:
        return None
    step = float(part.time_s[1] - part.time_s[0])
    lag = max(1, round(TURN_OVER_S / step))
    speed = np.gradient(part.values, step)
    change = np.abs(speed[lag:] - speed[:-lag]) / (lag * step)
    i = int(np.argmax(change))
    return float(change[i]), float(part.time_s[i + lag // 2])
