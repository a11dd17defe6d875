"""A report in short words, for the page and the terminal alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from shared.domain import Unit
from shared.exercise import CheckSpec
from shared.report import FindingPart, SetReport
from shared.report_machine import LoadPart, PivotPart
from vision.common.quantities import Bound, give_or_take, limit_words, numbered, pivot_words, quantity
from vision.judging.lockout import LOOK
from vision.seeing.marks import REST_S

UNIT_WORDS: Mapping[Unit, str] = {
    "deg": "degrees",
    "s": "seconds",
    "cm": "cm",
    "trunk_fraction": "trunk lengths",
    "%": "%",
    "reps": "repetitions",
    "ratio": "ratio",
}
VIEW_WORDS = {
    "side-left": "from the left side",
    "side-right": "from the right side",
    "front": "from the front",
    "rear": "from behind",
    "oblique": "from an oblique angle",
}

#: The notice of a set for which nobody cleared the member.
NOT_CLEARED = (
    "This machine needs a trainer's word first, and none was given for this member: the set is counted and "
    "measured for the trainer, and the member gets no prompt."
)
#: The note of a set whose machine could be compared with the knee, had somebody pointed at its axis.
HOW_PIVOT = "Knee alignment not checked. Mark the machine's axis in the clip to check it."


def counted(n: int, one: str, many: str | None = None) -> str:
    """``1 repetition``, ``3 repetitions``."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def counted_otherwise(report: SetReport) -> bool:
    """Whether a trainer counted otherwise than the repetitions that were judged: no share of them is told."""
    return report.count not in (None, sum(not rep.partial for rep in report.reps))


def count_words(report: SetReport) -> str:
    """``12 reps``; ``9 full, 4 short`` where some were too short to count."""
    full, short = report.count or 0, sum(rep.partial for rep in report.reps)
    return f"{full} full, {short} short" if short else counted(full, "rep")


#: A clip that begins no later than this before the set shows no getting ready worth naming, s.
READY_S = 1.0


def ready_words(report: SetReport) -> str:
    """What the strip names ahead of the first repetition: ``getting ready, 4 s, not judged``; else empty."""
    before = report.reps[0].start_s if report.reps else 0.0
    return f"getting ready, {before:.0f} s, not judged" if before > READY_S else ""


def bound_words(limit: Bound, unit: Unit, spec: CheckSpec | None) -> str:
    """``at most 172 degrees``: the limit with its direction."""
    words = limit_words(limit, unit)
    if isinstance(limit, Sequence) and None not in limit:
        return words
    if spec is None:
        return words
    return f"at most {words}" if spec.limit.at_most is not None else f"at least {words}"


def reps_words(reps: Sequence[int | None]) -> str:
    """``repetition 4``, ``repetitions 4, 9 and 12`` or ``the whole set``."""
    numbers = sorted({r for r in reps if r is not None})
    return numbered(numbers) if numbers else "the whole set"


def measured_words(finding: FindingPart) -> str:
    """``181 degrees, give or take 4``; empty where nothing was measured."""
    if finding.measured is None:
        return ""
    said = quantity(finding.measured, finding.unit, against=finding.limit)
    if finding.uncertainty is None:
        return said
    return f"{said}, {give_or_take(finding.uncertainty, finding.unit)}"


def by_picture(finding: FindingPart) -> bool:
    """Whether the picture bears a finding out more than its figure does, which then comes last."""
    return finding.reason is not None and finding.reason.startswith(LOOK)


def found_words(finding: FindingPart, limit: str, after: str) -> str:
    """What follows a finding's name: ``, 181 degrees, give or take 4 (limit: at most 172 degrees)``.

    after: what comes between both. Its reason follows the figures, but where the picture counts for more.
    """
    figures, reason = f"{measured_words(finding)} (limit: {limit})", finding.reason
    if reason is None:
        return f"{after}{figures}"
    if by_picture(finding):
        return f". {reason[:1].upper()}{reason[1:]}. {figures}"
    return f"{after}{figures}; {reason}"


def definition_limit(spec: CheckSpec) -> str:
    """The limit as the definition states it, lengths in centimetres."""
    low, high = spec.limit.resolved(in_cm=True)
    both = low is not None and high is not None
    unit: Unit = "cm" if spec.limit.is_length else spec.unit
    return bound_words((low, high) if both else (high if low is None else low), unit, spec)


def when_words(finding: FindingPart, clip: str) -> str:
    """``at 17.4 s``, with the clip's name where it is not ``clip``; empty without a moment."""
    if finding.time_s is None:
        return ""
    other = f" of {finding.clip}" if finding.clip not in (None, clip) else ""
    return f"at {finding.time_s:.1f}\u00a0s{other}"


def machine_lines(report: SetReport) -> list[str]:
    """What the marks on the machine gave, a sentence each; empty without marks."""
    machine = report.machine
    if machine is None:
        return []
    lines = []
    if machine.pivot is not None:
        lines.append(_pivot_words(machine.pivot))
    if machine.load is not None:
        lines += _load_words(machine.load)
    for mark in machine.marks:
        if mark.board_half_cm is not None:
            lines.append(f"Mark {mark.name}: from the board, {give_or_take(mark.board_half_cm, 'cm')} cm.")
            continue
        lines.append(f"Mark {mark.name}: followed in {100 * mark.seen_share:.0f} % of the pictures.")
    return lines


def _pivot_words(pivot: PivotPart) -> str:
    unit = pivot.unit
    said = (
        f"The machine's axis lies {quantity(pivot.distance, unit)} from the knee's "
        f"({give_or_take(pivot.uncertainty, unit)}): {pivot_words(pivot.along, pivot.across, unit)}."
    )
    if pivot.change is None or pivot.change_uncertainty is None:
        return said
    moved = quantity(pivot.change, pivot.unit)
    unsure = give_or_take(pivot.change_uncertainty, pivot.unit)
    return f"{said} It moves by {moved} within a repetition ({unsure})."


def _load_words(load: LoadPart) -> list[str]:
    count = "was not counted" if load.count is None else f"rose {counted(load.count, 'time')}"
    lines = [f"The load {count}."]
    rests = [rep for rep in load.reps if rep.rest_s is not None and rep.rest_s >= REST_S]
    if rests:
        said = ", ".join(f"{rep.rest_s:.1f} s after repetition {rep.number}" for rep in rests)
        lines.append(f"It lay at its lowest place for {said}.")
    speeds = [
        rep for rep in load.reps if rep.lift_peak_speed is not None and rep.lower_peak_speed is not None
    ]
    if speeds:
        up = max(rep.lift_peak_speed or 0.0 for rep in speeds)
        down = max(rep.lower_peak_speed or 0.0 for rep in speeds)
        lines.append(
            f"At its fastest: {quantity(up, load.unit)} a second up, {quantity(down, load.unit)} down."
        )
    return lines
