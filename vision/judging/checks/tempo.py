"""Checks of the count and of time: how long the phases take, how even they are, how turns are taken."""

from __future__ import annotations

from collections.abc import Iterable
from statistics import NormalDist
from typing import Literal

import numpy as np

from shared.domain import Rep, Signal
from shared.exercise import CheckSpec
from vision.judging.check import Context, NoParams, Params, check
from vision.judging.evidence import Answer, Measurement, NotMeasured
from vision.measuring.learnt.uncertainty import Z90
from vision.measuring.reps.tempo import FEWEST_REPS, detrended_cv

#: A turn's deceleration is looked for this near to the load-down end, over a tenth of a second.
TURN_WINDOW_S, TURN_OVER_S = 0.3, 0.1


class PhaseParams(Params):
    """phases: of which the shortest counts."""

    phases: tuple[Literal["lift", "lower"], ...] = ("lift", "lower")


class AskedParams(Params):
    """lift_s, lower_s: the tempo that was asked, in seconds."""

    lift_s: float
    lower_s: float


class LowerParams(Params):
    """only_under_s: a lowering that lasts longer was no drop, whatever the lift took."""

    only_under_s: float


class TurnParams(Params):
    """longest_rest_s: a turn with as long a rest at the load-down end is not rushed, however hard it began.

    usual_within: share of the set's median length within which a repetition's length is usual.
    """

    longest_rest_s: float
    usual_within: float


@check("rep_count", limit=("at_least", "at_most"), of_set=True, counts=True)
def rep_count(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """The number of full repetitions; certain as far as the set was seen throughout."""
    yield Measurement(rep=None, value=float(len(ctx.reps.full)), uncertainty=0.0, unit="reps", time_s=None)


@check("phase_duration", PhaseParams, limit="at_least", by_drive=True, timed=True)
def phase_duration(ctx: Context, spec: CheckSpec, params: PhaseParams) -> Iterable[Answer]:
    """Seconds of the shortest named phase of each repetition."""
    for rep in ctx.judged(spec):
        phases = {"lift": (rep.lift_s, rep.start_s), "lower": (rep.lower_s, rep.lower_start_s)}
        seconds, at_s = min(phases[p] for p in params.phases)
        yield Measurement(
            rep=rep.number,
            value=seconds,
            uncertainty=ctx.half_of_phase_s(seconds),
            unit="s",
            time_s=at_s + seconds / 2,
        )


@check("phase_share", AskedParams, limit="at_least", by_drive=True, timed=True)
def phase_share(ctx: Context, spec: CheckSpec, params: AskedParams) -> Iterable[Answer]:
    """Lift or lower of each repetition in % of the time asked for it, whichever falls shorter of it."""
    for rep in ctx.judged(spec):
        phases = [
            (rep.lift_s, params.lift_s, rep.start_s),
            (rep.lower_s, params.lower_s, rep.lower_start_s),
        ]
        seconds, asked_s, at_s = min(phases, key=lambda phase: phase[0] / phase[1])
        yield Measurement(
            rep=rep.number,
            value=100.0 * seconds / asked_s,
            uncertainty=100.0 * ctx.half_of_phase_s(seconds) / asked_s,
            unit="%",
            time_s=at_s + seconds / 2,
        )


@check("lower_over_lift", LowerParams, limit="at_least", by_drive=True, timed=True)
def lower_over_lift(ctx: Context, spec: CheckSpec, params: LowerParams) -> Iterable[Answer]:
    """Lowering over lifting time; to be weighed with how likely the lowering was short at all."""
    for rep in ctx.judged(spec):
        yield lowering(spec, params, rep=rep, half_s=ctx.learnt.duration_s, number=rep.number)


def lowering(
    spec: CheckSpec, params: LowerParams, rep: Rep, half_s: float, number: int, points: tuple[str, ...] = ()
) -> Measurement:
    """The ratio of one repetition, of the body or of the load; its uncertainty is that at the limit.

    half_s: half-width of one phase's duration.
    """
    limit = spec.limit.resolved(False)[0] or 0.0
    sd, lift = half_s / Z90, max(rep.lift_s, 1e-6)
    return Measurement(
        rep=number,
        value=rep.lower_s / lift,
        uncertainty=Z90 * float(np.hypot(sd, limit * sd)) / lift,
        unit="ratio",
        time_s=rep.lower_start_s + rep.lower_s / 2,
        points=points,
        share=NormalDist(0.0, sd).cdf(params.only_under_s - rep.lower_s),
    )


@check("duration_spread", limit="at_most", of_set=True, timed=True)
def duration_spread(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Coefficient of variation (%) of repetition durations after removing the straight-line trend.

    It describes this set, so only the timing error makes it uncertain.
    """
    durations = np.array([r.duration_s for r in ctx.reps.full])
    if len(durations) < 4:
        yield NotMeasured(None, "fewer than four full repetitions", "too-few-reps")
        return
    half = 100.0 * ctx.learnt.duration_s / float(durations.mean()) / float(np.sqrt(len(durations) - 2))
    yield Measurement(rep=None, value=detrended_cv(durations), uncertainty=half, unit="%", time_s=None)


@check("rest_at_load_down", limit="at_most")
def rest_at_load_down(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Seconds without movement at the load-down end before the next repetition.

    From the drive alone a rest on the stack and a pause just above it look the same, so it is at most
    a question.
    """
    for rep in ctx.judged(spec):
        if rep.rest_s is None:
            continue
        yield Measurement(
            rep=rep.number,
            value=rep.rest_s,
            uncertainty=ctx.learnt.duration_s,
            unit="s",
            time_s=rep.end_s + rep.rest_s / 2,
            points=ctx.drive.points,
            question=True,
            doubt="a pause just above the stack looks the same",
        )


@check("turn_deceleration", TurnParams, limit="at_most")
def turn_deceleration(ctx: Context, spec: CheckSpec, params: TurnParams) -> Iterable[Answer]:
    """Hardest deceleration at the load-down turn over the median of the set's turns.

    A few looks a second show a hard turn, not how hard: it is at most a question.
    """
    turns = {
        r.number: (r, _deceleration(ctx.drive, r.end_s)) for r in ctx.judged(spec) if r.rest_s is not None
    }
    known = [found[0] for _, found in turns.values() if found is not None]
    if len(known) < FEWEST_REPS - 1:
        yield NotMeasured(None, "too few turns at the load-down end were seen to be compared", "too-few-reps")
        return
    usual = float(np.median(known))
    length_s = float(np.median([r.duration_s for r in ctx.reps.full]))
    for number, (rep, found) in turns.items():
        if found is None:
            yield NotMeasured(number, "the turn at the load-down end could not be seen", "limb-hidden")
            continue
        why_not = _not_rushed(rep, params, length_s)
        yield Measurement(
            rep=number,
            value=found[0] / usual,
            uncertainty=ctx.learnt.turn_ratio,
            unit="ratio",
            time_s=found[1],
            points=ctx.drive.points,
            share=0.0 if why_not else 1.0,
            question=True,
            note=why_not,
        )


def _not_rushed(rep: Rep, params: TurnParams, length_s: float) -> str:
    """Why the turn after a repetition is no rushed one, however hard it is; empty where it may be."""
    rest_s = rep.rest_s or 0.0
    if rest_s >= params.longest_rest_s:
        return f"with a rest of {rest_s:.1f} s there"
    if abs(rep.duration_s - length_s) > params.usual_within * length_s:
        return f"in a repetition of {rep.duration_s:.1f} s, where {length_s:.1f} s are usual"
    return ""


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
