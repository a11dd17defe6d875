"""Checks that a person's marks on the machine answer; without its mark a check says nothing."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from statistics import NormalDist

from shared.domain import Measurement, NotMeasured
from shared.exercise import CheckSpec
from vision.common.prompts import quantity
from vision.judging.checks import (
    MAX_MISSING_SHARE,
    Answer,
    Context,
    LowerParams,
    NoParams,
    check,
    lower_over_lift,
)
from vision.measuring.load import REST_HALF_S
from vision.measuring.pivot import Pivot
from vision.measuring.uncertainty import Z90

LOST = "the mark on the stack was lost here"
#: Half-width (s) of the load's own lift and lower times.
LOAD_TIME_HALF_S = 0.15
#: Where the load was never seen lying still outside the set its lowest place may not be the stack.
MOST_WHEN_UNSURE = 0.89
UNSURE = "the load is not seen resting before or after the set, so this may be a pause just above the stack"


@check("pivot_off")
def pivot_off(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Distance between the knee's axis and the machine's, median over the set; only with the mark."""
    pivot = ctx.machine.pivot if ctx.machine is not None else None
    if pivot is None:
        return
    points = ("pivot", f"{ctx.track.near}_knee")
    yield Measurement(
        None, pivot.distance, pivot.half, pivot.unit, pivot.time_s, points, note=pivot_words(pivot)
    )


def pivot_words(pivot: Pivot) -> str:
    """``the machine's axis lies 3.1 cm beyond the knee and 1.0 cm above the thigh's line``."""
    along = "beyond the knee" if pivot.along_median >= 0 else "towards the hip from the knee"
    across = "above" if pivot.across_median >= 0 else "below"
    said = (
        f"the machine's axis lies {quantity(abs(pivot.along_median), pivot.unit)} {along} and "
        f"{quantity(abs(pivot.across_median), pivot.unit)} {across} the thigh's line"
    )
    return said if pivot.knee_marked else f"{said}; marking the knee too makes this much surer"


@check("load_rest")
def load_rest(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Seconds for which the load lies within 1 cm of its lowest place after each repetition but the last."""
    load = ctx.machine.load if ctx.machine is not None else None
    if load is None:
        return
    limit = spec.limit.resolved(False)[1] or 0.0
    judged = {rep.number for rep in ctx.judged(spec)}
    for rep, following in pairwise(ctx.reps.reps):
        if rep.number not in judged:
            continue
        if load.missing_share(rep.end_s - REST_HALF_S, following.start_s + REST_HALF_S) > MAX_MISSING_SHARE:
            yield NotMeasured(rep.number, LOST, "mark-lost")
            continue
        seconds = load.rest_after(rep, following.turn_s)
        beyond = NormalDist(limit, REST_HALF_S / Z90).cdf(seconds)
        unsure = not load.sure and beyond >= 0.5
        middle = (rep.end_s + following.start_s) / 2
        yield Measurement(
            rep.number, seconds, REST_HALF_S, "s", middle, ("stack",),
            min(beyond, MOST_WHEN_UNSURE) if unsure else beyond, UNSURE if unsure else "",
        )  # fmt: skip


@check("load_dropped", LowerParams)
def load_dropped(ctx: Context, spec: CheckSpec, params: LowerParams) -> Iterable[Answer]:
    """Lowering over lifting time of the load itself, where its lower was short at all.

    Where the mark is lost the drive answers.
    """
    machine = ctx.machine
    if machine is None or machine.load is None:
        return
    limit = spec.limit.resolved(False)[0] or 0.0
    sd = LOAD_TIME_HALF_S / Z90
    by_drive = {answer.rep: answer for answer in lower_over_lift(ctx, spec, params)}
    for rep in ctx.judged(spec):
        own = machine.load_rep(rep)
        if own is None or machine.load.missing_share(own.start_s, own.end_s) > MAX_MISSING_SHARE:
            yield by_drive[rep.number]
            continue
        spread = sd * (1 + limit**2) ** 0.5
        dropped = NormalDist(0.0, spread).cdf(limit * own.lift_s - own.lower_s)
        short = NormalDist(0.0, sd).cdf(params.only_under_s - own.lower_s)
        lift = max(own.lift_s, 1e-6)
        yield Measurement(
            rep.number, own.lower_s / lift, Z90 * spread / lift, "ratio", own.lower_start_s + own.lower_s / 2,
            ("stack",), dropped * short,
        )  # fmt: skip
