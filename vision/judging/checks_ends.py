"""Checks of a place at one end of the drive: how high or how far ahead the hands are there."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np

from shared.domain import Measurement, NotMeasured, Rep
from shared.exercise import CheckSpec
from vision.judging.checks import (
    MAX_MISSING_SHARE,
    Answer,
    Context,
    End,
    EndParams,
    Params,
    check,
    end_windows,
    value_at_end,
)
from vision.measuring.uncertainty import ONE_SIDED, change_half_width, in_unit

#: With fewer other repetitions their median says too little.
FEWEST_OTHERS = 3


class UsualEndParams(Params):
    """end: which end of the drive; which: the largest, the smallest or the middle value there.

    usual_trunk, usual_half_trunk: a good repetition's value there and how far good ones differ, in
    trunk lengths.
    """

    end: End
    which: Literal["max", "min", "middle"]
    usual_trunk: float
    usual_half_trunk: float


@check("place_at_end", UsualEndParams)
def place_at_end(ctx: Context, spec: CheckSpec, params: UsualEndParams) -> Iterable[Answer]:
    """A place at one end of each repetition: as seen, or as seen against the set's other repetitions.

    The second takes a good repetition's usual place and adds how far this end lies from the median of
    the others, in which the landmark model's error cancels. Whichever speaks more clearly of a fault
    is the answer, so a set that is so throughout is still judged by what is seen.
    """
    answers = [_seen(ctx, spec, params, rep) for rep in ctx.judged(spec)]
    seen = [a for a in answers if isinstance(a, Measurement)]
    low, high = spec.limit.resolved(ctx.track.cm_per_px is not None)
    for answer in answers:
        if isinstance(answer, NotMeasured):
            yield answer
            continue
        others = [m.value for m in seen if m is not answer]
        both = [answer]
        if len(others) >= FEWEST_OTHERS:
            both.append(_against_others(ctx, params, answer, float(np.median(others))))
        yield max(both, key=lambda m: _beyond(m.value, low, high) - ONE_SIDED * m.uncertainty)


def _seen(ctx: Context, spec: CheckSpec, params: UsualEndParams, rep: Rep) -> Answer:
    if params.which != "middle":
        return value_at_end(ctx, spec, EndParams(end=params.end, which=params.which), rep)
    signal = ctx.signals[spec.signal or ""]
    part = signal.between(*end_windows(rep, ctx.reps, params.end)[0])
    if part.missing_share > MAX_MISSING_SHARE:
        return NotMeasured(rep.number, "the limb was hidden at this end", "limb-hidden")
    half = float(np.hypot(signal.bias, np.nanmedian(part.noise)))
    middle_s = float(part.time_s[len(part.time_s) // 2])
    return Measurement(
        rep.number, float(np.nanmedian(part.values)), half, signal.unit, middle_s, signal.points
    )


def _beyond(value: float, low: float | None, high: float | None) -> float:
    over = [value - high] if high is not None else []
    under = [low - value] if low is not None else []
    return max(over + under)


def _against_others(ctx: Context, params: UsualEndParams, seen: Measurement, others: float) -> Measurement:
    unit = seen.unit
    usual = in_unit(params.usual_trunk, ctx.track, unit)
    half = np.hypot(in_unit(params.usual_half_trunk, ctx.track, unit), change_half_width(unit, ctx.track))
    value = usual + seen.value - others
    note = "against the other repetitions of this set"
    return Measurement(seen.rep, value, float(half), unit, seen.time_s, seen.points, note=note)
