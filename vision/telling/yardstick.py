"""The member's own yardstick in a report: own limits, the approved set, and another machine's movement."""

from __future__ import annotations

from shared.domain import RepSet, ViewName
from shared.exercise import CheckSpec, Exercise
from shared.own_range import PAST_ITS, PAST_THEIR
from shared.report import MemberPart, OwnLimitPart, ReferencePart
from vision.common.quantities import limit_words, quantity
from vision.judging.options import Options

NO_DRIFT = "Nothing has changed from the approved set, as far as can be measured."
UNDER_USUAL = (
    "Hardly any repetition reaches the member's usual range of {usual:.0f} degrees: what counts as full goes "
    "by the range of this set."
)


def member_notes(member: MemberPart | None, exercise: Exercise) -> list[str]:
    """The member's own limits, a sentence each."""
    if member is None:
        return []
    return [_own_words(own, exercise.check(own.check)) for own in member.limits]


def range_note(usual: float | None, reps: RepSet | None) -> list[str]:
    """That the set went by its own range, where the member's usual one was out of reach."""
    if usual is None or reps is None or reps.usual_range == usual:
        return []
    return [UNDER_USUAL.format(usual=usual)]


def reference_notes(reference: ReferencePart | None) -> list[str]:
    """What could not be compared with the approved set, and that nothing drifted."""
    if reference is None:
        return []
    return [*reference.notes, *([] if reference.drifts else [NO_DRIFT])]


def member_part(
    definition: Exercise, exercise: Exercise, options: Options, view: ViewName | None
) -> MemberPart | None:
    """The member's yardstick in a clip of that view; definition: before their limits, exercise: with them."""
    if options.member is None:
        return None
    before = {spec.id: spec for spec in definition.checks}
    own = [spec for spec in exercise.checks if before.get(spec.id) != spec]
    changed = [s for s in own if s.id not in before or s.with_tempo == before[s.id].with_tempo]
    limits = [_own_limit(spec, before.get(spec.id)) for spec in changed]
    usual = options.usual_range(exercise.name, view)
    return MemberPart(new=options.member.new, limits=limits, usual_range=usual)


def _own_limit(spec: CheckSpec, usual: CheckSpec | None) -> OwnLimitPart:
    return OwnLimitPart(
        check=spec.id,
        title=spec.title,
        limit=spec.limit.told(spec.unit == "cm"),
        usual=None if usual is None else usual.limit.told(usual.unit == "cm"),
        unit=spec.unit,
    )


def _own_words(own: OwnLimitPart, spec: CheckSpec) -> str:
    sides = zip(("at least", "at most"), spec.limit.resolved(spec.unit == "cm"), strict=True)
    bounds = " and ".join(
        f"{side} {quantity(value, spec.unit)}" for side, value in sides if value is not None
    )
    instead = "" if own.usual is None else f" (usually {limit_words(own.usual, own.unit)})"
    what = own.title.lower().removesuffix(PAST_ITS).removesuffix(PAST_THEIR)
    return f"This member's own limit: {what}, {bounds}{instead}."
