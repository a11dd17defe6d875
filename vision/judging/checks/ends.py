"""Checks at one end of the drive: how far the limb went, how high or how far ahead the hands are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from shared.domain import Rep, RepSet
from shared.exercise import CheckSpec
from shared.keypoints import Side
from vision.judging.check import (
    AT_END_S,
    MAX_MISSING_SHARE,
    Context,
    NoParams,
    Params,
    check,
    extreme,
    set_start,
)
from vision.judging.evidence import VIEW, Answer, LimbEnd, Measurement, NotMeasured
from vision.judging.lockout import LOCKOUT_JOINTS
from vision.judging.plausible import REASON_CODE, implausible
from vision.measuring.learnt.uncertainty import change_half_width, in_unit

#: With fewer other repetitions their usual end says too little.
FEWEST_OTHERS = 3
#: Beside repetitions that stop shorter, in shares of the set's full ones, a straight end is nothing unusual.
WHOLE_SHARE = 0.9
HIDDEN = "the limb was hidden at this end"
End = Literal["lift-end", "load-down-end"]


class EndParams(Params):
    """end: which end of the drive; which: the largest or the smallest value there."""

    end: End
    which: Literal["max", "min"] = "max"


class UsualEndParams(Params):
    """end: which end of the drive; which: the largest, the smallest or the middle value there.

    usual_trunk, usual_half_trunk: a good repetition's value there and how far good ones differ, in
    trunk lengths.
    """

    end: End
    which: Literal["max", "min", "middle"]
    usual_trunk: float
    usual_half_trunk: float


@check("range_share", limit="at_least", by_drive=True)
def range_share(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Each repetition's range in % of the usual range; a question where something else may shorten it."""
    for rep in ctx.judged(spec):
        asked = ctx.exercise.drive.asked_of(rep.range_share)
        yield Measurement(
            rep=rep.number,
            value=100.0 * rep.range_share,
            uncertainty=float(np.hypot(ctx.learnt.range_percent, 100.0 * rep.range_unsure)),
            unit="%",
            time_s=rep.turn_s,
            points=ctx.drive.points,
            question=bool(asked),
            doubt=asked,
        )


@check("angle_at_end", EndParams, limit=("at_most", "at_least"), needs_signal=True, in_signal=True)
def angle_at_end(ctx: Context, spec: CheckSpec, params: EndParams) -> Iterable[Answer]:
    """Largest or smallest value of a signal at one end of each repetition.

    A load-down end belongs to the repetition that reaches it; the first repetition answers for the
    end it starts from as well. A lockout of a knee or elbow is to be weighed by the other ends; an
    angle that was agreed with a member is not, wherever it lies.
    """
    answers = [
        _value_at_end(ctx, spec, end=params.end, which=params.which, rep=rep) for rep in ctx.judged(spec)
    ]
    joint = _joint(ctx, spec)
    weighed = spec.lockout and params.which == "max" and spec.limit.at_most is not None
    if not weighed or joint is None or joint not in LOCKOUT_JOINTS:
        return answers
    usual_share = float(np.median([rep.range_share for rep in ctx.reps.full or ctx.reps.reps]))
    whole = {
        rep.number
        for rep in ctx.reps.reps
        if rep.range_share >= WHOLE_SHARE * usual_share and not rep.range_unsure
    }
    usual = [a for a in answers if isinstance(a, Measurement) and a.rep in whole]
    return [replace(a, limb=_limb(a, usual, joint)) if isinstance(a, Measurement) else a for a in answers]


def _limb(one: Measurement, usual: list[Measurement], joint: str) -> LimbEnd:
    others = [m.value for m in usual if m is not one]
    if len(others) < FEWEST_OTHERS:
        return LimbEnd(joint=joint, change=None)
    return LimbEnd(joint=joint, change=one.value - less_straight(others))


def less_straight(ends: Sequence[float]) -> float:
    """The lower quartile of some ends, in degrees: what the less straight repetitions come to."""
    return float(np.percentile(ends, 25))


def _value_at_end(ctx: Context, spec: CheckSpec, end: End, which: str, rep: Rep) -> Answer:
    """Largest or smallest held value of the check's signal at one end of a repetition."""
    signal = ctx.signal_of(spec)
    sign = 1.0 if which == "max" else -1.0
    parts = [signal.between(*w) for w in end_windows(rep, ctx.reps, end)]
    found = [e for p in parts if (e := extreme(p, sign)) is not None]
    if not found:
        return NotMeasured(rep.number, HIDDEN, "limb-hidden")
    value, at_s, moment_half = max(found, key=lambda f: sign * f[0])
    half = float(np.hypot(signal.clip_half, moment_half))
    if why := implausible(_joint(ctx, spec), value, half):
        return NotMeasured(rep.number, why, REASON_CODE)
    return Measurement(
        rep=rep.number, value=value, uncertainty=half, unit=signal.unit, time_s=at_s, points=signal.points
    )


def _joint(ctx: Context, spec: CheckSpec) -> str | None:
    return ctx.exercise.signals[spec.signal or ""].params.get("joint")


def end_windows(rep: Rep, reps: RepSet, end: End) -> list[tuple[float, float]]:
    """From when to when (s) a repetition is at an end of the drive; the first one starts at one as well."""
    if end == "lift-end":
        return [(rep.turn_s - AT_END_S, rep.lower_start_s + AT_END_S)]
    windows = [(rep.end_s - AT_END_S, rep.end_s + max(AT_END_S, rep.rest_s or 0.0))]
    if rep is reps.reps[0]:
        windows.append((rep.start_s - AT_END_S, rep.start_s + AT_END_S))
    return windows


@check("place_at_end", UsualEndParams, limit=("at_most", "at_least"), needs_signal=True)
def place_at_end(ctx: Context, spec: CheckSpec, params: UsualEndParams) -> Iterable[Answer]:
    """A place at one end of each repetition: as seen, or as seen against the set's other repetitions.

    The second takes a good repetition's usual place and adds how far this end lies from the median of
    the others, in which the landmark model's error cancels. Whichever speaks more clearly of a fault
    is the answer, so a set that is so throughout is still judged by what is seen.
    """
    answers = [_seen(ctx, spec, params=params, rep=rep) for rep in ctx.judged(spec)]
    seen = [a for a in answers if isinstance(a, Measurement)]
    for answer in answers:
        others = [m.value for m in seen if m is not answer]
        if isinstance(answer, NotMeasured) or len(others) < FEWEST_OTHERS:
            yield answer
            continue
        yield replace(
            answer, instead=_against_others(ctx, params, seen=answer, others=float(np.median(others)))
        )


def _seen(ctx: Context, spec: CheckSpec, params: UsualEndParams, rep: Rep) -> Answer:
    if params.which != "middle":
        return _value_at_end(ctx, spec, end=params.end, which=params.which, rep=rep)
    signal = ctx.signal_of(spec)
    part = signal.between(*end_windows(rep, ctx.reps, params.end)[0])
    if part.missing_share > MAX_MISSING_SHARE:
        return NotMeasured(rep.number, HIDDEN, "limb-hidden")
    return Measurement(
        rep=rep.number,
        value=float(np.nanmedian(part.values)),
        uncertainty=float(np.hypot(signal.clip_half, np.nanmedian(part.moment_half))),
        unit=signal.unit,
        time_s=float(part.time_s[len(part.time_s) // 2]),
        points=signal.points,
    )


def _against_others(ctx: Context, params: UsualEndParams, seen: Measurement, others: float) -> Measurement:
    unit = seen.unit
    usual = in_unit(params.usual_trunk, ctx.track, unit)
    half = np.hypot(in_unit(params.usual_half_trunk, ctx.track, unit), change_half_width(unit, ctx.track))
    note = "compared with the other repetitions of this set"
    return replace(seen, value=usual + seen.value - others, uncertainty=float(half), note=note)


class SideParams(Params):
    """side: the person's own."""

    side: Side


@check("other_side", SideParams, limit=("at_most", "at_least"), of_set=True)
def other_side(ctx: Context, spec: CheckSpec, params: SideParams) -> Iterable[Answer]:
    """Nothing is measured: what holds for this side alone is not seen by itself in this clip."""
    bounds = " and ".join(f"{value:g} degrees" for value in spec.limit.resolved(True) if value is not None)
    hidden = f"this clip does not show that side by itself, so the limit of {bounds} was not checked"
    yield NotMeasured(None, f"{hidden}; film from the {params.side}", VIEW)


@check("at_start", limit=("at_most", "at_least"), of_set=True, needs_signal=True)
def at_start(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """A signal at the set's start, for the trainer: its own value, which no later change shows.

    It is at most a question.
    """
    signal = ctx.signal_of(spec)
    value = set_start(signal, ctx.reps)
    if value is None:
        yield NotMeasured(None, "the body was hidden at the start of the set", "limb-hidden")
        return
    yield Measurement(
        rep=None,
        value=value,
        uncertainty=signal.clip_half,
        unit=signal.unit,
        time_s=ctx.reps.full[0].start_s,
        points=signal.points,
        question=True,
    )
