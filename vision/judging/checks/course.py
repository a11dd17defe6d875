"""Checks that hold a repetition against the set's own first ones, at the same place of the drive.

They show a change: a set that was so from its first repetition on is not seen.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

import numpy as np

from shared.domain import Rep, Signal
from shared.exercise import CheckSpec
from vision.judging.check import Context, Params, check, extreme
from vision.judging.evidence import Answer, Measurement, NotMeasured, Stricter
from vision.judging.usual_course import (
    FIRST_REPS,
    Where,
    course_half_width,
    departure,
    restlessness,
    usual_course,
)
from vision.measuring.learnt.uncertainty import Z90, in_unit

#: Half-width over how restless a set's departures are: five times a normal error's deviation, since of many
#: looks the one counts that lies furthest off; on sets whose pictures were made small, dark and noisy.
RESTLESS_WIDER = 6.0
HIDDEN = "the body was hidden for too much of this repetition, or of the first ones it is compared with"


class CourseParams(Params):
    """direction: which way the fault goes; where: only near that end of the drive.

    also: other signals that must show a fault that goes up as well; the one that shows it least counts.
    """

    direction: Literal["up", "down", "either"]
    where: Where = "anywhere"
    also: tuple[str, ...] = ()


class UsualParams(CourseParams):
    """usual, usual_half: the value of a good repetition and the half-width of what is usual there."""

    usual: float
    usual_half: float


class ArchParams(CourseParams):
    """strict: the smaller limit in the check's unit once ``shift`` moved over ``shift_trunk``."""

    strict: float
    shift: str
    shift_trunk: float


def departures(
    ctx: Context, spec: CheckSpec, name: str, params: CourseParams, own_half: bool = False
) -> Iterator[tuple[Rep, Signal | None]]:
    """Each judged repetition with what it does beyond the usual course; None when that is not known.

    own_half: only from the middle of the lift on, so that a repetition does not answer for the end it
    starts from.
    """
    drive = ctx.drive
    signals = [ctx.signals[n] for n in (name, *params.also)]
    usual = [course for s in signals if (course := usual_course(s, drive, ctx.reps)) is not None]
    for rep in ctx.judged(spec):
        from_s = (rep.start_s + rep.turn_s) / 2 if own_half else rep.start_s
        known = zip(signals, usual, strict=True) if len(usual) == len(signals) else ()
        parts = [
            departure(s, drive, rep=rep, usual=course, where=params.where, from_s=from_s)
            for s, course in known
        ]
        yield rep, _least(parts) if parts else None


def _least(parts: list[Signal]) -> Signal:
    """The smallest of several departures at each moment that all of them have; NaN where one was hidden."""
    first, *rest = parts
    for other in rest:
        _, here, there = np.intersect1d(first.time_s, other.time_s, return_indices=True)
        values = np.minimum(first.values[here], other.values[there])
        first = replace(first, time_s=first.time_s[here], values=values, moment_half=first.moment_half[here])
    return first


def largest(part: Signal | None, direction: str) -> tuple[float, float] | None:
    """(size in the fault's direction, moment) of the largest held departure, as the landmarks show it."""
    if part is None:
        return None
    signs = {"up": (1.0,), "down": (-1.0,), "either": (1.0, -1.0)}[direction]
    found = [(sign * e[0], e[1]) for sign in signs if (e := extreme(part, sign)) is not None]
    return max(found, default=None)


@dataclass(frozen=True, kw_only=True)
class Moved:
    """(size, moment in s) of each judged repetition's largest change, None where it is not known.

    half: half-width of the sizes.
    """

    of_rep: list[tuple[Rep, tuple[float, float] | None]]
    half: float


def _moved(ctx: Context, spec: CheckSpec, name: str, params: CourseParams, own_half: bool = False) -> Moved:
    """How far a signal moved in each judged repetition.

    The size is whole, where a landmark follows by a share only. A set is as unsure as its first
    repetitions, from which the usual course is taken, depart from it themselves, and as restless as it is.
    """
    kind, unit = ctx.exercise.signals[name].kind, ctx.signals[name].unit
    learnt = ctx.learnt.change.get(kind)
    share = 1.0 if learnt is None else learnt.follows
    out: list[tuple[Rep, tuple[float, float] | None]] = []
    parts: list[Signal] = []
    for rep, part in departures(ctx, spec, name=name, params=params, own_half=own_half):
        found = largest(part, params.direction)
        out.append((rep, found and (found[0] / share, found[1])))
        parts += [] if part is None else [part]
    first = [abs(found[0]) for rep, found in out if found and rep in ctx.reps.full[:FIRST_REPS]]
    own = float(np.median(first)) if first else 0.0
    noise = RESTLESS_WIDER * restlessness(parts) / share
    half = course_half_width(learnt, ctx.track, unit)
    return Moved(of_rep=out, half=max(half, float(np.hypot(own, noise))))


@check("course_change", CourseParams, limit="at_most", needs_signal=True)
def course_change(ctx: Context, spec: CheckSpec, params: CourseParams) -> Iterable[Answer]:
    """Largest held change from the first repetitions at the same place of the drive.

    Positive in the named direction; its size where either way counts.
    """
    return _changes(ctx, spec, params)


def _changes(ctx: Context, spec: CheckSpec, params: CourseParams) -> Iterator[Answer]:
    signal = ctx.signal_of(spec)
    moved = _moved(ctx, spec, name=signal.name, params=params)
    for rep, found in moved.of_rep:
        if found is None:
            yield NotMeasured(rep.number, HIDDEN, "limb-hidden")
            continue
        yield _measured(rep, found[0], half=moved.half, signal=signal, at_s=found[1])


def _measured(rep: Rep, value: float, half: float, signal: Signal, at_s: float) -> Measurement:
    return Measurement(
        rep=rep.number, value=value, uncertainty=half, unit=signal.unit, time_s=at_s, points=signal.points
    )


@check("course_value", UsualParams, limit=("at_most", "at_least"), needs_signal=True)
def course_value(ctx: Context, spec: CheckSpec, params: UsualParams) -> Iterable[Answer]:
    """The usual value of a good repetition, moved by the largest change from the set's first ones.

    For what a view shows too poorly by itself. From the middle of the lift to the load-down end.
    """
    signal = ctx.signal_of(spec)
    moved = _moved(ctx, spec, name=signal.name, params=params, own_half=True)
    half = float(np.hypot(moved.half, params.usual_half))
    sign = -1.0 if params.direction == "down" else 1.0
    for rep, found in moved.of_rep:
        if found is None:
            yield NotMeasured(rep.number, HIDDEN, "limb-hidden")
            continue
        yield _measured(rep, params.usual + sign * found[0], half=half, signal=signal, at_s=found[1])


@check("arching", ArchParams, limit="at_most", needs_signal=True)
def arching(ctx: Context, spec: CheckSpec, params: ArchParams) -> Iterable[Answer]:
    """A posture's change, held to a stricter limit in repetitions in which another part moved as well."""
    allowed = in_unit(params.shift_trunk, ctx.track, ctx.signals[params.shift].unit)
    shifts = _moved(ctx, spec, name=params.shift, params=CourseParams(direction="up", where="anywhere"))
    slid = {
        rep.number: NormalDist(allowed, shifts.half / Z90).cdf(found[0])
        for rep, found in shifts.of_rep
        if found is not None
    }
    for answer in _changes(ctx, spec, params):
        if isinstance(answer, NotMeasured) or answer.rep is None:
            yield answer
            continue
        stricter = Stricter(
            limit=params.strict,
            probability=slid.get(answer.rep, 0.0),
            note=f"with the hips moving forward the limit is {params.strict:.0f} degrees",
        )
        yield replace(answer, share=1.0, stricter=stricter)
