"""Checks that a person's marks on the machine answer; without its mark a check says nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import Literal

from shared.exercise import CheckSpec
from vision.common.quantities import pivot_words
from vision.judging.check import MAX_MISSING_SHARE, Context, NoParams, Params, check
from vision.judging.checks.always import usual_value
from vision.judging.checks.tempo import LowerParams, lowering
from vision.judging.evidence import Answer, Measurement, NotMeasured
from vision.measuring.machine.load import REST_HALF_S
from vision.measuring.machine.pivot import Pivot

LOST = "the mark on the stack was lost here"
NOT_BEHIND = "the marked edge of the seat does not lie behind the calves where the legs are bent"
#: Half-width (s) of the load's own lift and lower times.
LOAD_TIME_HALF_S = 0.15
#: Where the load was never seen lying still outside the set its lowest place may not be the stack.
UNSURE = "the load is not seen resting before or after the set, so this may be a pause just above the stack"


@check("pivot_off", limit="at_most", of_set=True, needs_mark="pivot")
def pivot_off(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Distance between the knee's axis and the machine's, median over the set; only with the mark."""
    pivot = ctx.machine.pivot if ctx.machine is not None else None
    if pivot is None:
        return
    points = ("pivot", f"{ctx.track.near}_knee")
    yield Measurement(
        rep=None,
        value=pivot.distance,
        uncertainty=pivot.half,
        unit=pivot.unit,
        time_s=pivot.time_s,
        points=points,
        note=_where(pivot),
    )


def _where(pivot: Pivot) -> str:
    said = f"the machine's axis lies {pivot_words(pivot.along_median, pivot.across_median, pivot.unit)}"
    return said if pivot.knee_marked else f"{said}; marking the knee too makes this much surer"


class PadParams(Params):
    """which: of what is measured against the pad."""

    which: Literal["pad_lean", "pad_gap"]


@check("against_pad", PadParams, limit="at_most", of_set=True, needs_mark="pad")
def against_pad(ctx: Context, spec: CheckSpec, params: PadParams) -> Iterable[Answer]:
    """How the body lies against the marked pad: the middle one of what each full repetition shows.

    It needs no first repetitions to compare with; only with the mark.
    """
    signal = ctx.machine.signals.get(params.which) if ctx.machine is not None else None
    if signal is not None:
        yield usual_value(ctx, signal)


@check("calves_at_seat", limit="at_most", of_set=True, needs_mark="seat")
def calves_at_seat(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """The gap between calves and marked seat edge at the lift end, the middle one; only with the mark.

    At most a question: how thick a calf is, is not known.
    """
    signal = ctx.machine.signals.get("seat_gap") if ctx.machine is not None else None
    if signal is None:
        return
    found = usual_value(ctx, signal, end="lift-end")
    if isinstance(found, Measurement):
        yield replace(found, question=True)
    else:
        yield NotMeasured(None, NOT_BEHIND, "mark-not-behind")


@check("load_rest", limit="at_most", needs_mark="stack")
def load_rest(ctx: Context, spec: CheckSpec, params: NoParams) -> Iterable[Answer]:
    """Seconds for which the load lies within 1 cm of its lowest place after each repetition but the last."""
    load = ctx.machine.load if ctx.machine is not None else None
    if load is None:
        return
    judged = {rep.number for rep in ctx.judged(spec)}
    for rep, following in pairwise(ctx.reps.reps):
        if rep.number not in judged:
            continue
        if load.missing_share(rep.end_s - REST_HALF_S, following.start_s + REST_HALF_S) > MAX_MISSING_SHARE:
            yield NotMeasured(rep.number, LOST, "mark-lost")
            continue
        yield Measurement(
            rep=rep.number,
            value=load.rest_after(rep, following.turn_s),
            uncertainty=REST_HALF_S,
            unit="s",
            time_s=(rep.end_s + following.start_s) / 2,
            points=("stack",),
            share=1.0,
            question=not load.sure,
            doubt="" if load.sure else UNSURE,
        )


@check("load_dropped", LowerParams, limit="at_least", needs_mark="stack", timed=True)
def load_dropped(ctx: Context, spec: CheckSpec, params: LowerParams) -> Iterable[Answer]:
    """Lowering over lifting time of the load itself, where its lower was short at all.

    Where the mark is lost the drive answers.
    """
    machine = ctx.machine
    if machine is None or machine.load is None:
        return
    for rep in ctx.judged(spec):
        own = machine.load_rep(rep)
        if own is None or machine.load.missing_share(own.start_s, own.end_s) > MAX_MISSING_SHARE:
            yield lowering(spec, params, rep=rep, half_s=ctx.learnt.duration_s, number=rep.number)
            continue
        yield lowering(spec, params, rep=own, half_s=LOAD_TIME_HALF_S, number=rep.number, points=("stack",))
