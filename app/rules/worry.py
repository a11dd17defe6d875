"""Which set a trainer should look at first, and why, in a few words."""

from __future__ import annotations

from dataclasses import dataclass

from shared.report import SetReport
from vision.telling.words import counted, measured_words, reps_words

PAIN, LOCKOUT, OFF_TARGET, NOT_JUDGED, FLAGGED, TO_WATCH, CLEAR, CHECKING = range(10, 90, 10)


@dataclass(frozen=True)
class Worry:
    """rank: the smaller, the sooner; words: the reason."""

    rank: int
    words: str


def worry_of(report: SetReport | None, status: str, pain: bool, where: str = "") -> Worry:
    """The most worrying thing about one set."""
    if pain:
        return Worry(PAIN, f"Pain told: {where.strip()}" if where.strip() else "Pain told")
    if status == "checking":
        return Worry(CHECKING, "Still being checked")
    if report is None or status == "failed":
        return Worry(NOT_JUDGED, "Could not be checked")
    if not report.quality.usable:
        first = report.quality.problems[0].text if report.quality.problems else ""
        return Worry(NOT_JUDGED, f"Could not be judged. {first}".strip())
    return _judged(report)


def _judged(report: SetReport) -> Worry:
    flags = report.flags()
    lockouts = [f for f in flags if "lockout" in f.check]
    if lockouts:
        return Worry(LOCKOUT, f"{lockouts[0].title}: {reps_words([f.rep for f in lockouts])}")
    off = next((f for f in flags if f.check == "rep-target"), None)
    if off is not None:
        return Worry(OFF_TARGET, f"{off.title}: {measured_words(off)}")
    if flags:
        titles = list(dict.fromkeys(f.title or f.check for f in flags))
        first = reps_words([f.rep for f in flags if (f.title or f.check) == titles[0]])
        more = f", and {counted(len(titles) - 1, 'more fault')}" if len(titles) > 1 else ""
        return Worry(FLAGGED, f"{titles[0]}: {first}{more}")
    watch = list(dict.fromkeys(f.title or f.check for f in report.findings if f.verdict == "watch"))
    if watch:
        return Worry(TO_WATCH, f"To watch: {', '.join(w.lower() for w in watch)}")
    return Worry(CLEAR, "Nothing flagged")
