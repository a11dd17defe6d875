"""The member's own yardstick in a report: own limits, the approved set, and another machine's movement."""

from __future__ import annotations

from shared.domain import RepSet, Signals
from shared.exercise import CheckSpec, Exercise
from shared.member import with_member
from shared.report import MemberPart, OwnLimitPart, SetReport
from vision.common.prompts import limit_words, quantity
from vision.judging.options import Options
from vision.judging.reference import compare

Bounds = float | tuple[float | None, float | None] | None
NO_DRIFT = "No drift from the approved set beyond what can be measured."
UNDER_USUAL = (
    "Hardly any repetition reaches the member's usual range of {usual:.0f} degrees, so the set's own range "
    "decides here what counts as a full repetition."
)


def own_exercise(exercise: Exercise, options: Options) -> Exercise:
    """The exercise with the member's own limits in it."""
    return exercise if options.member is None else with_member(exercise, options.member)


def usual_range(exercise: Exercise, options: Options) -> float | None:
    """The member's range of a full repetition: their file's, else the approved set's, else None."""
    own = options.member.own(exercise.name).usual_range if options.member is not None else None
    if own is None and options.reference is not None:
        return options.reference.usual_range
    return own


def finish(
    report: SetReport,
    definition: Exercise,
    exercise: Exercise,
    options: Options,
    signals: Signals,
    reps: RepSet | None,
    guess: str | None,
) -> SetReport:
    """The report with what the yardsticks say; a guess at another machine comes before all else.

    definition: the exercise before the member's limits; exercise: with them.
    """
    notices = [guess] if guess else []
    notices += report.notices
    notes = list(report.quality.notes)
    usual = usual_range(exercise, options)
    if usual is not None and reps is not None and reps.usual_range != usual:
        notes.append(UNDER_USUAL.format(usual=usual))
    member = _member_part(definition, exercise, options, usual)
    notes += [_own_words(own, exercise.check(own.check)) for own in member.limits] if member else []
    reference = None
    if options.reference is not None and report.quality.usable:
        reference = compare(options.reference, report, signals, exercise)
        notices += [drift.text for drift in reference.drifts]
        notes += [*reference.notes, *([] if reference.drifts else [NO_DRIFT])]
    quality = report.quality.model_copy(update={"notes": notes})
    extras = {"notices": notices, "quality": quality, "member": member, "reference": reference}
    return report.model_copy(update=extras)


def _member_part(
    definition: Exercise, exercise: Exercise, options: Options, usual: float | None
) -> MemberPart | None:
    if options.member is None:
        return None
    before = {spec.id: spec for spec in definition.checks}
    changed = [spec for spec in exercise.checks if before.get(spec.id) != spec]
    limits = [_own_limit(spec, before.get(spec.id)) for spec in changed]
    return MemberPart(new=options.member.new, limits=limits, usual_range=usual)


def _own_limit(spec: CheckSpec, usual: CheckSpec | None) -> OwnLimitPart:
    return OwnLimitPart(
        check=spec.id,
        title=spec.title,
        limit=_bounds(spec),
        usual=None if usual is None else _bounds(usual),
        unit=spec.unit,
    )


def _bounds(spec: CheckSpec) -> Bounds:
    at_least, at_most = spec.limit.resolved(spec.unit == "cm")
    if at_least is None or at_most is None:
        return at_most if at_least is None else at_least
    return at_least, at_most


def _own_words(own: OwnLimitPart, spec: CheckSpec) -> str:
    sides = zip(("at least", "at most"), spec.limit.resolved(spec.unit == "cm"), strict=True)
    bounds = " and ".join(
        f"{side} {quantity(value, spec.unit)}" for side, value in sides if value is not None
    )
    instead = "" if own.usual is None else f" (usually {limit_words(own.usual, own.unit)})"
    return f"This member's own limit: {own.title.lower()}, {bounds}{instead}."
