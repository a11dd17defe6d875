"""reps -> findings: run every check, and judge its evidence. Only this module holds anything against a limit.

Where the interval decides, a value is a flag when its one-sided bound of certainty ``FLAG_CERTAINTY``
(``shared/faults.toml``) still lies beyond the limit, watch when the value does, clear otherwise, and
cannot-tell when it is less sure than the check allows, or nothing was measured. Where there is more to
weigh, the probability of the fault decides: flag from ``FLAG_PROBABILITY``, watch from
``WATCH_PROBABILITY`` (a lockout from ``WATCH_FROM``); a question, and a fact of the set that is no fault,
is a watch at most.
"""

from __future__ import annotations

import logging
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isnan
from statistics import NormalDist

from shared.domain import Unit, Verdict
from shared.exercise import CheckSpec
from shared.faults import FLAG_CERTAINTY
from shared.limit import beyond
from shared.report import FindingPart
from vision.common.prompts import member_prompt
from vision.common.quantities import quantity
from vision.judging.bind import BoundCheck, Plan
from vision.judging.check import Context
from vision.judging.evidence import VIEW, Answer, Measurement, NotMeasured
from vision.judging.lockout import WATCH_FROM, lockout_probability, why_below_the_limit
from vision.measuring.learnt.uncertainty import Z90
from vision.measuring.signals.signal import view_word

#: The one-sided bound of a flag over the half-width of the two-sided 90 % interval. At 80 % 405 of 412 flags
#: on 134 tuning clips were right and 296 of 311 clear faults found; at 90 %, 389 of 394 and 288.
ONE_SIDED = NormalDist().inv_cdf(FLAG_CERTAINTY) / Z90
FLAG_PROBABILITY = 0.9
WATCH_PROBABILITY = 0.5
A_FACT = "no fault, only for choosing the load"
#: A trunk length, as in the limits of the catalogue: 4 cm are 0.08 of it.
CM_PER_TRUNK = 50.0
_log = logging.getLogger(__name__)


@dataclass(frozen=True, kw_only=True)
class _Judged:
    """An answer with what the limit makes of it; probability: None where the interval decides."""

    answer: Answer
    verdict: Verdict
    probability: float | None = None
    reason: str | None = None


def judge_reps(
    ctx: Context, plan: Plan, frame_at: Iterable[tuple[float, int]], cleared: bool
) -> list[FindingPart]:
    """Findings of every check, in the order of the definition, then by repetition.

    frame_at: (time_s, frame) of every frame looked at; cleared: whether member prompts are worded
    for an exercise that needs clearance. A check of what others found is run after them.
    """
    times = list(frame_at)
    silent = ctx.exercise.needs_clearance and not cleared
    judged: dict[str, list[_Judged]] = {}
    for bound in sorted(plan.checks, key=lambda b: b.traits.after):
        here = replace(ctx, likely=_likely(judged)) if bound.traits.after else ctx
        answers = _answers(here, bound)
        judged[bound.spec.id] = [_judged(bound.spec, answer, ctx.in_cm) for answer in answers]
    return [
        _finding(bound.spec, one, in_cm=ctx.in_cm, times=times, silent=silent)
        for bound in plan.checks
        for one in judged[bound.spec.id]
    ]


def _answers(ctx: Context, bound: BoundCheck) -> list[Answer]:
    """What one check says; a view that cannot answer, or a failure, is NotMeasured for all that it judges."""
    spec = bound.spec
    reps: tuple[int | None, ...] = (
        (None,) if bound.traits.of_set else tuple(r.number for r in ctx.judged(spec))
    )
    reason = _cannot(ctx, bound)
    if reason is not None:
        return [NotMeasured(n, reason, VIEW) for n in reps]
    try:
        return list(bound.function(ctx, spec, bound.params))
    except Exception:  # noqa: BLE001  one failing check must not lose the others' results
        _log.exception("check %s failed", spec.id)
        return [NotMeasured(n, "the check itself failed", "check-failed") for n in (reps or (None,))]


def _cannot(ctx: Context, bound: BoundCheck) -> str | None:
    if view_word(ctx.track) not in bound.spec.views:
        return f"cannot be judged from here; film from the {' or '.join(bound.spec.views)}"
    if bound.traits.timed:
        return None  # a movement takes as long from wherever it is seen
    signal = ctx.exercise.drive.signal if bound.traits.by_drive else bound.spec.signal
    return None if signal is None else ctx.signals[signal].unjudgeable


def _likely(judged: dict[str, list[_Judged]]) -> dict[str, dict[int, float]]:
    """By check and repetition (0: the set), the probability of the fault; NaN where it was not measured.

    What the view cannot show is left out.
    """
    return {
        check: {
            one.answer.rep or 0: float("nan") if one.probability is None else one.probability
            for one in found
            if not (isinstance(one.answer, NotMeasured) and one.answer.code == VIEW)
        }
        for check, found in judged.items()
    }


def _judged(spec: CheckSpec, answer: Answer, in_cm: bool) -> _Judged:
    """One answer held against the limit, and against what the check must be sure to."""
    if isinstance(answer, NotMeasured):
        return _Judged(answer=answer, verdict="cannot-tell")
    low, high = spec.limit.resolved(in_cm)
    found = _clearer(answer, low, high)
    found = replace(found, question=found.question or spec.question)
    unit = _unit(spec, in_cm)
    allowed = spec.max_uncertainty / (CM_PER_TRUNK if unit == "trunk_fraction" else 1.0)
    probability, why = weighed(found, low, high)
    verdict = judge(
        spec,
        found,
        probability=probability if _decides(found) else None,
        max_uncertainty=allowed,
        in_cm=in_cm,
    )
    if verdict == "cannot-tell":
        return _Judged(answer=_too_unsure(found, unit), verdict=verdict, probability=probability)
    fact = A_FACT if spec.fact else ""
    doubts = [] if verdict == "clear" else [why, found.doubt, fact, _since(found, low, high)]
    reason = next((said for said in [found.note, *doubts] if said), None)
    return _Judged(answer=found, verdict=verdict, probability=probability, reason=reason)


def _too_unsure(found: Measurement, unit: Unit) -> NotMeasured:
    if isnan(found.value):
        return NotMeasured(found.rep, "this could not be seen here")
    unsure = f"this could only be measured to within {quantity(found.uncertainty, unit)}: too rough to tell"
    return NotMeasured(found.rep, unsure, "too-uncertain")


def _clearer(found: Measurement, low: float | None, high: float | None) -> Measurement:
    """Of a value and the same seen in another way, the one that speaks more clearly of a fault."""
    if found.instead is None:
        return found
    return max(found, found.instead, key=lambda m: beyond(m.value, low, high) - ONE_SIDED * m.uncertainty)


def _decides(found: Measurement) -> bool:
    """Whether the probability decides, and not the interval."""
    evidence = (found.share, found.limb, found.probability)
    return found.question or any(one is not None for one in evidence)


def weighed(found: Measurement, low: float | None, high: float | None) -> tuple[float, str]:
    """The probability of the fault, and why where a stricter limit or the rest of the set made it."""
    if found.probability is not None:
        return found.probability, ""
    if found.limb is not None and high is not None:
        why = why_below_the_limit(found.limb) if found.value <= high else ""
        return lockout_probability(found.limb, found.value - high, found.uncertainty), why
    p = (1.0 if found.share is None else found.share) * _outside(found, low, high)
    if found.stricter is None:
        return p, ""
    strictly = found.stricter.probability * _outside(found, None, found.stricter.limit)
    return max(p, strictly), found.stricter.note if strictly > p else ""


def _outside(found: Measurement, low: float | None, high: float | None) -> float:
    sd = max(found.uncertainty, 1e-6) / Z90
    over = 0.0 if high is None else NormalDist(high, sd).cdf(found.value)
    under = 0.0 if low is None else 1.0 - NormalDist(low, sd).cdf(found.value)
    return max(over, under)


def judge(
    spec: CheckSpec, found: Measurement, probability: float | None, max_uncertainty: float, in_cm: bool
) -> Verdict:
    """flag, watch, clear or cannot-tell; probability: None where the interval decides."""
    p = probability
    at_most_watch = found.question or spec.fact
    flagged = p is not None and p >= FLAG_PROBABILITY and not at_most_watch
    decided = p is not None and (p <= 1 - FLAG_PROBABILITY or flagged)
    if isnan(found.value) or (not found.uncertainty <= max_uncertainty and not decided):
        return "cannot-tell"
    if p is not None:
        watch_from = WATCH_FROM if found.limb and found.limb.change is not None else WATCH_PROBABILITY
        return "flag" if flagged else "watch" if p >= watch_from else "clear"
    past = beyond(found.value, *spec.limit.resolved(in_cm))
    if past > 0 and past >= ONE_SIDED * found.uncertainty and not at_most_watch:
        return "flag"
    return "watch" if past > 0 else "clear"


def _since(found: Measurement, low: float | None, high: float | None) -> str:
    """``from repetition 9 on``: since when all lie beyond the limit; empty where the last does not."""
    first = None
    for number, value in reversed(found.per_rep):
        if not beyond(value, low, high) > 0:
            break
        first = number
    return "" if first is None else f"from repetition {first} on"


def _finding(
    spec: CheckSpec, judged: _Judged, in_cm: bool, times: Sequence[tuple[float, int]], silent: bool
) -> FindingPart:
    limit, unit = spec.limit.told(in_cm), _unit(spec, in_cm)
    common = {"check": spec.id, "rep": judged.answer.rep, "limit": limit, "unit": unit, "title": spec.title}
    if isinstance(judged.answer, NotMeasured):
        return FindingPart(
            **common, time_s=None, frame=None, verdict="cannot-tell", measured=None, uncertainty=None,
            prompt=None, reason=judged.answer.reason, reason_code=judged.answer.code,
        )  # fmt: skip
    found = judged.answer.rounded()
    prompt = None
    if not silent:
        prompt = member_prompt(
            spec, judged.verdict, measured=found.value, uncertainty=found.uncertainty, unit=unit
        )
    moment = _nearest(times, found.time_s)
    return FindingPart(
        **common, time_s=round(moment[0], 4) if moment else None, frame=moment[1] if moment else None,
        verdict=judged.verdict, measured=found.value, uncertainty=found.uncertainty, prompt=prompt,
        reason=judged.reason, probability=judged.probability if _decides(found) else None,
        points=list(found.points),
    )  # fmt: skip


def _unit(spec: CheckSpec, in_cm: bool) -> Unit:
    if not spec.limit.is_length:
        return spec.unit
    return "cm" if in_cm else "trunk_fraction"


def _nearest(times: Sequence[tuple[float, int]], at_s: float | None) -> tuple[float, int] | None:
    if at_s is None or not times:
        return None
    after = bisect_left(times, (at_s, 0))
    return min(times[max(0, after - 1) : after + 1], key=lambda t: abs(t[0] - at_s))
