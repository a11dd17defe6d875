"""Whether a set may have been done on another machine than the one named: asked before anything else."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass

from shared.report import SetReport
from vision.common.notices import ASK_MACHINE, LOOKS_LIKE

#: The name under which a trainer's word on the machine is kept beside those on findings.
MACHINE = "machine"
#: Flagged by so many checks, a repetition is a sign of another machine; so many of all, and it is asked.
#: Chosen here: a person rarely makes three mistakes at once in most repetitions; no published source.
CHECKS, SHARE = 3, 0.5


@dataclass(frozen=True)
class Doubt:
    """words: what is said of it; names: the machines that it looks like, none where only flags tell."""

    words: str
    names: tuple[str, ...] = ()


def doubt_of(report: SetReport) -> Doubt | None:
    """Why the machine is in doubt; None where it is not."""
    notice = next((words for words in report.notices if words.startswith(LOOKS_LIKE)), None)
    if notice is not None:
        return Doubt(notice, tuple(report.other_machines))
    checks: dict[int, set[str]] = {}
    for finding in report.flags():
        if finding.rep is not None:
            checks.setdefault(finding.rep, set()).add(finding.check)
    many = sum(len(names) >= CHECKS for names in checks.values())
    if many <= SHARE * len(report.reps):
        return None
    return Doubt(
        f"{many} of {len(report.reps)} repetitions are flagged by {CHECKS} checks or more. "
        "That is rare; is this another machine than the one named?"
    )


def confirmed(report: SetReport, said: Container[str]) -> SetReport:
    """The report as it came; without the notice of another machine once a trainer said that this is the one.

    said: names of what was decided of the set.
    """
    if MACHINE not in said:
        return report
    notices = [notice for notice in report.notices if not notice.startswith(LOOKS_LIKE)]
    return report.model_copy(update={"notices": notices})


def member_words(doubt: Doubt) -> str:
    """The same for the member, who cannot have it checked again."""
    first = doubt.words.split(". ")[0].rstrip(".")
    seen = f"{first}. " if doubt.names or first.startswith(LOOKS_LIKE) else ""
    return f"{seen}{ASK_MACHINE}"
