"""What there is to ask about seat, pad and lever before the repetitions are looked at."""

from __future__ import annotations

from collections.abc import Sequence

from shared.exercise import Exercise
from shared.report import FindingPart, SetReport

#: A fault is one of the set-up where this share of the repetitions show it.
USUAL_SHARE = 0.5


def setup_questions(report: SetReport, exercise: Exercise | None) -> list[str]:
    """Questions for the trainer, one a check that has one: never an order to the member.

    Asked where a fault is one of the whole set or of half of its repetitions, flagged or to watch; what
    shows how a load was taken up and put down again, where it is one of the first or the last repetition.
    """
    asked: dict[str, list[FindingPart]] = {}
    for finding in report.findings:
        if finding.verdict in ("flag", "watch"):
            asked.setdefault(finding.check, []).append(finding)
    specs = exercise.checks if exercise is not None else ()
    said = [
        spec.asks
        for spec in specs
        if spec.asks and _of_the_setup(asked.get(spec.id, ()), report, spec.asks_of_ends)
    ]
    return list(dict.fromkeys(said))


def _of_the_setup(found: Sequence[FindingPart], report: SetReport, ends: bool) -> bool:
    reps = {finding.rep for finding in found}
    if None in reps:
        return True
    if ends and report.reps:
        return bool(reps & {report.reps[0].number, report.reps[-1].number})
    return bool(reps) and len(reps) >= USUAL_SHARE * len(report.reps)
