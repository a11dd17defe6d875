"""reps -> findings: run every check, and judge what it measured. Only this module judges.

With the half-width u of the 90 % interval, the one-sided 80 % bound lies 0.51 u from the value:
flag when even that bound is beyond the limit, watch when the value is, clear otherwise, and
cannot-tell when u is wider than the check allows, or nothing was measured. A check that weighs its
own evidence gives a probability instead: flag from 0.9, watch from 0.5.
"""

from __future__ import annotations

import logging
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import replace

from shared.domain import Measurement, NotMeasured, Unit, Verdict
from shared.exercise import CheckSpec
from shared.report import FindingPart
from vision.common.prompts import member_prompt
from vision.judging.bind import Plan
from vision.judging.checks import Answer, Context
from vision.measuring.signals import view_word
from vision.measuring.uncertainty import ONE_SIDED

FLAG_PROBABILITY = 0.9
WATCH_PROBABILITY = 0.5
#: Measures of single repetitions that are as good as the drive's course within a repetition.
BY_DRIVE = ("phase_duration", "lower_over_lift", "range_share")
#: A trunk length, as in the limits of the catalogue: 4 cm are 0.08 of it.
CM_PER_TRUNK = 50.0
_log = logging.getLogger(__name__)


def judge_reps(
    ctx: Context, plan: Plan, frame_at: Iterable[tuple[float, int]], cleared: bool
) -> list[FindingPart]:
    """Findings of every check, in the order of the definition, then by repetition.

    frame_at: (time_s, frame) of every frame looked at; cleared: whether member prompts are worded
    for an exercise that needs clearance.
    """
    times = list(frame_at)
    silent = ctx.exercise.needs_clearance and not cleared
    out = []
    for spec, function, params in plan.checks:
        for answer in _answers(ctx, spec, function, params):
            out.append(_finding(ctx, spec, answer, times, silent))
    return out


def _answers(ctx: Context, spec: CheckSpec, function: object, params: object) -> list[Answer]:
    """What one check says; a view that cannot answer, or a failure, is NotMeasured for each repetition."""
    reps: tuple[int | None, ...] = tuple(r.number for r in ctx.judged(spec))
    reason = _cannot(ctx, spec)
    if reason is not None:
        return [NotMeasured(n, reason, "view") for n in reps]
    try:
        return list(function(ctx, spec, params))  # type: ignore[operator]
    except Exception:  # noqa: BLE001  one failing check must not lose the others' results
        _log.exception("check %s failed", spec.id)
        return [NotMeasured(n, "the check itself failed", "check-failed") for n in (reps or (None,))]


def _cannot(ctx: Context, spec: CheckSpec) -> str | None:
    if view_word(ctx.track) not in spec.views:
        return f"cannot be seen from this side; film from the {' or '.join(spec.views)}"
    signal = ctx.exercise.drive.signal if spec.measure in BY_DRIVE else spec.signal
    return None if signal is None else ctx.signals[signal].unjudgeable


def judge(spec: CheckSpec, found: Measurement, max_uncertainty: float, in_cm: bool) -> Verdict:
    """flag, watch, clear or cannot-tell for one measurement."""
    p = found.probability
    decided = p is not None and not 1 - FLAG_PROBABILITY < p < FLAG_PROBABILITY
    if not found.uncertainty <= max_uncertainty and not decided:
        return "cannot-tell"
    if p is not None:
        return "flag" if p >= FLAG_PROBABILITY else "watch" if p >= WATCH_PROBABILITY else "clear"
    beyond = excess(spec, found.value, in_cm)
    if beyond > 0 and beyond >= ONE_SIDED * found.uncertainty:
        return "flag"
    return "watch" if beyond > 0 else "clear"


def excess(spec: CheckSpec, value: float, in_cm: bool) -> float:
    """How far a value lies beyond the limit, in its unit; negative when it keeps the limit."""
    at_least, at_most = spec.limit.resolved(in_cm)
    over = [value - at_most] if at_most is not None else []
    under = [at_least - value] if at_least is not None else []
    return max(over + under)


def _finding(
    ctx: Context, spec: CheckSpec, answer: Answer, times: list[tuple[float, int]], silent: bool
) -> FindingPart:
    in_cm = ctx.track.cm_per_px is not None
    limit = _limit(spec, in_cm)
    unit: Unit = "cm" if spec.limit.is_length and in_cm else spec.unit
    if spec.limit.is_length and not in_cm:
        unit = "trunk_fraction"
    if isinstance(answer, NotMeasured):
        return FindingPart(
            check=spec.id, rep=answer.rep, time_s=None, frame=None, verdict="cannot-tell", measured=None,
            uncertainty=None, limit=limit, unit=unit, prompt=None, reason=answer.reason,
            reason_code=answer.code, title=spec.title,
        )  # fmt: skip
    allowed = spec.max_uncertainty / (CM_PER_TRUNK if unit == "trunk_fraction" else 1.0)
    verdict = judge(spec, answer, allowed, in_cm)
    if verdict == "cannot-tell":
        unsure = f"the measurement is good to {answer.uncertainty:.1f} {unit} only"
        return _finding(ctx, spec, NotMeasured(answer.rep, unsure, "too-uncertain"), times, silent)
    answer = replace(answer, value=round(answer.value, 4), uncertainty=round(answer.uncertainty, 4))
    prompt = None if silent else member_prompt(spec, verdict, answer.value, answer.uncertainty, limit, unit)
    moment = _nearest(times, answer.time_s)
    return FindingPart(
        check=spec.id, rep=answer.rep, time_s=round(moment[0], 4) if moment else None,
        frame=moment[1] if moment else None, verdict=verdict, measured=answer.value,
        uncertainty=answer.uncertainty, limit=limit, unit=unit, prompt=prompt,
        reason=answer.note or None, probability=answer.probability, points=list(answer.points),
        title=spec.title,
    )  # fmt: skip


def _nearest(times: list[tuple[float, int]], at_s: float | None) -> tuple[float, int] | None:
    if at_s is None or not times:
        return None
    after = bisect_left(times, (at_s, 0))
    return min(times[max(0, after - 1) : after + 1], key=lambda t: abs(t[0] - at_s))


def _limit(spec: CheckSpec, in_cm: bool) -> float | tuple[float | None, float | None]:
    at_least, at_most = spec.limit.resolved(in_cm)
    if at_least is not None and at_most is not None:
        return at_least, at_most
    return at_least if at_most is None else at_most  # type: ignore[return-value]
