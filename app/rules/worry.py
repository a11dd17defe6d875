"""Which set a trainer should look at first, and why, in a few words."""

from __future__ import annotations

from dataclasses import dataclass

from app.rules.other_machine import doubt_of
from app.rules.states import PAIN_ALONE, SetStatus
from shared.faults import is_fact, is_own_range, order_of
from shared.report import SetReport
from vision.telling.groups import groups
from vision.telling.words import counted, reps_words

#: Flags have the order of their fault, between pain and FLAGGED (``shared/faults.toml``).
PAIN, NOT_JUDGED, FLAGGED, TO_WATCH, CLEAR, CHECKING = 10, 40, 50, 60, 70, 80


@dataclass(frozen=True)
class Worry:
    """rank: the smaller, the sooner; words: the reason."""

    rank: int
    words: str


def worry_of(
    report: SetReport | None,
    status: SetStatus,
    pain: bool,
    where: str = "",
    machine_sure: bool = False,
    cleared: str = "",
) -> Worry:
    """The most worrying thing about one set.

    machine_sure: a trainer said it is the machine named; cleared: the trainer who cleared all its pain.
    """
    if not pain:
        return _of_clip(report, status, machine_sure)
    told = f"Pain reported: {where.strip()}" if where.strip() else "Pain reported"
    if not cleared:
        return Worry(PAIN, told)
    told += f"; cleared by {cleared}"
    if status == PAIN_ALONE:
        return Worry(TO_WATCH, told)
    found = _of_clip(report, status, machine_sure)
    return Worry(min(found.rank, TO_WATCH), f"{told}. {found.words}")


def _of_clip(report: SetReport | None, status: SetStatus, machine_sure: bool) -> Worry:
    if status == "checking":
        return Worry(CHECKING, "Still being checked")
    if report is None or status == "failed":
        return Worry(NOT_JUDGED, "Could not be checked")
    if not report.quality.usable:
        first = report.quality.problems[0].text if report.quality.problems else ""
        return Worry(NOT_JUDGED, f"Could not be judged. {first}".strip())
    found = _judged(report)
    if not machine_sure and (doubt := doubt_of(report)) is not None:
        why = doubt.words.split(". ")[0].rstrip(".")
        return Worry(min(found.rank, NOT_JUDGED), f"Machine in doubt: {why[0].lower()}{why[1:]}")
    return found


def _judged(report: SetReport) -> Worry:
    flags = [group for group in groups(report, None, "flag") if not is_fact(group.check)]
    if flags:
        first, others = flags[0], len(flags) - 1
        where = reps_words(first.reps) if first.reps else first.measured
        more = f", and {counted(others, 'more fault')}" if others else ""
        return Worry(min(order_of(first.check), FLAGGED), f"{first.title}: {where}{more}")
    beyond = [f for f in report.findings if f.verdict == "watch" and not is_fact(f.check)]
    beyond.sort(key=lambda f: not is_own_range(f.check))
    watch = list(dict.fromkeys(f.title or f.check for f in beyond))
    if watch:
        return Worry(TO_WATCH, f"To watch: {', '.join(w.lower() for w in watch)}")
    return Worry(CLEAR, "Nothing flagged")


def worry_kind(rank: int) -> str:
    """Which mark stands for a worry: flag, watch, cannot-tell or clear."""
    if rank == NOT_JUDGED:
        return "cannot-tell"
    if rank <= FLAGGED:
        return "flag"
    return "watch" if rank == TO_WATCH else "clear"
