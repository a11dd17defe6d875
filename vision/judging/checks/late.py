"""Checks of how a set goes on: what lets go at its end, and what creeps over it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
from scipy.stats import theilslopes

from shared.domain import Rep
from shared.exercise import CheckSpec
from vision.judging.check import AT_END_S, Context, NoParams, Params, check
from vision.judging.evidence import Answer, Measurement, NotMeasured
from vision.measuring.learnt.uncertainty import in_unit
from vision.measuring.reps.tempo import FEWEST_REPS, late_over_early

#: The last three against the first half lie so much further off than one repetition: sets drawn at random.
LATE_OVER_ONE = 1.4
#: Half-width of a creep over the set in trunk lengths: 29 tuning clips.
CREEP_TRUNK = 0.035
TOO_FEW = f"fewer than {FEWEST_REPS} repetitions: the last three cannot be compared with the first half"


class PostureParams(Params):
    """checks: the faults of posture that count."""

    checks: tuple[str, ...]


@check("late_range", limit="at_least", of_set=True)
def late_range(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Range of the last three repetitions in % of the set's first half (medians)."""
    reps = ctx.reps.reps
    shares = [r.range_share for r in reps]
    late = late_over_early(shares)
    if late is None:
        yield NotMeasured(None, TOO_FEW, "too-few-reps")
        return
    unsure = max(np.median([r.range_unsure for r in part]) for part in (reps[: len(reps) // 2], reps[-3:]))
    asked = ctx.exercise.drive.asked_of(float(np.median(shares[-3:])))
    yield Measurement(
        rep=None,
        value=100.0 * late,
        uncertainty=float(np.hypot(LATE_OVER_ONE * ctx.learnt.range_percent, 100.0 * unsure)),
        unit="%",
        time_s=reps[-1].turn_s,
        points=ctx.drive.points,
        question=bool(asked),
        doubt=asked,
        per_rep=_of_the_first_half(reps, shares),
    )


@check("late_tempo", limit="at_least", of_set=True)
def late_tempo(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Lift plus lower of the last three repetitions in % of the set's first half (medians)."""
    reps = ctx.reps.full
    moving = [r.lift_s + r.lower_s for r in reps]
    late = late_over_early(moving)
    if late is None:
        yield NotMeasured(None, TOO_FEW, "too-few-reps")
        return
    usual_s = float(np.median(moving[: len(moving) // 2]))
    yield Measurement(
        rep=None,
        value=100.0 * late,
        uncertainty=100.0 * 2.0**0.5 * ctx.learnt.duration_s / usual_s,
        unit="%",
        time_s=reps[-1].turn_s,
        per_rep=_of_the_first_half(reps, moving),
    )


def _of_the_first_half(reps: Sequence[Rep], values: Sequence[float]) -> tuple[tuple[int, float], ...]:
    """Each repetition's value in % of the median of the set's first half."""
    usual = float(np.median(values[: len(values) // 2]))
    return tuple((rep.number, 100.0 * value / usual) for rep, value in zip(reps, values, strict=True))


@check("late_posture", PostureParams, limit="at_most", of_set=True, after=True)
def late_posture(ctx: Context, spec: CheckSpec, params: PostureParams) -> Iterable[Answer]:
    """In how many of the last three repetitions the posture went; as sure as the second surest of them."""
    last = ctx.reps.full[-3:]
    if len(ctx.reps.full) < FEWEST_REPS:
        yield NotMeasured(None, TOO_FEW, "too-few-reps")
        return
    found = [ctx.likely[name] for name in params.checks if name in ctx.likely]
    gone = {rep.number: _largest(one[rep.number] for one in found if rep.number in one) for rep in last}
    if np.isnan(list(gone.values())).any():
        yield NotMeasured(None, "the body was hidden in one of the last three repetitions", "limb-hidden")
        return
    numbers = [number for number, p in gone.items() if p >= 0.5]
    yield Measurement(
        rep=None,
        value=float(len(numbers)),
        uncertainty=0.5,
        unit="reps",
        time_s=last[-1].turn_s,
        probability=float(np.sort(list(gone.values()))[-2]),
        doubt=f"from repetition {numbers[0]} on" if len(numbers) > 1 else "",
    )


def _largest(probabilities: Iterable[float]) -> float:
    """The largest of several, NaN for none; one that is not known leaves only what is likely anyway."""
    each = np.array(list(probabilities))
    known = each[~np.isnan(each)]
    largest = float(known.max()) if len(known) else float("nan")
    return largest if len(known) == len(each) or largest >= 0.5 else float("nan")


@check("creep", limit="at_most", of_set=True, needs_signal=True)
def creep(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """How far a signal moves over the whole set, by a straight line through its load-down ends.

    The line is that of Theil and Sen (scipy), which single repetitions do not pull.
    """
    signal = ctx.signal_of(spec)
    times, values = [], []
    for rep in ctx.reps.full:
        for at_s in (rep.start_s, rep.end_s):
            part = signal.between(at_s - AT_END_S, at_s + AT_END_S).values
            if len(part) and not np.isnan(part).all():
                times.append(at_s)
                values.append(float(np.nanmedian(part)))
    if len(times) < 2 * FEWEST_REPS:
        yield NotMeasured(None, "too few load-down ends were seen to follow it over the set", "too-few-reps")
        return
    yield Measurement(
        rep=None,
        value=float(theilslopes(values, times).slope) * (ctx.reps.end_s - ctx.reps.start_s),
        uncertainty=in_unit(CREEP_TRUNK, ctx.track, signal.unit),
        unit=signal.unit,
        time_s=ctx.reps.full[-1].end_s,
        points=signal.points,
    )
