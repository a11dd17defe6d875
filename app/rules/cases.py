"""A reviewed set as a case: numbers and the trainer's word, from which no person can be told.

No name, no text that people wrote, no picture, no name of a file, and no date finer than a week.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from app.rules.told import Said, key_of, rep_at
from shared.domain import Unit, Verdict, ViewName
from shared.exercise import Exercise
from shared.limit import Bound
from shared.report import FindingPart, RepPart, SetReport
from vision.judging.confirm import DOUBTED
from vision.judging.evidence import VIEW

Word = Literal["agree", "reword", "no-fault"]
#: What a trainer's word makes of a finding: told and right, told and wrong, left on watch, not told at all.
CaseOutcome = Literal["right", "wrong", "watched", "missed"]
OUTCOMES: tuple[CaseOutcome, ...] = ("right", "wrong", "watched", "missed")
#: A finding of these reasons was never judged by its numbers.
BY_PICTURE = (VIEW, "limb-hidden", "check-failed")


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class CaseFinding(_Part):
    """What the tool said, and the trainer's word on it, None where they said nothing.

    doubted: a flag put on watch, because one of two looks at the clip alone showed it, or neither by itself.
    """

    check: str
    rep: int | None
    verdict: Verdict
    measured: float | None
    uncertainty: float | None
    limit: Bound
    unit: Unit
    probability: float | None
    reason_code: str | None
    doubted: bool
    said: Word | None

    @property
    def key(self) -> tuple[str, int | None]:
        """Check and repetition."""
        return self.check, self.rep


class CaseMissed(_Part):
    """What a trainer added as missed; check: the one that should have seen it, None where none was named."""

    time_s: float
    rep: int | None
    check: str | None


class CaseLimit(_Part):
    """A limit of the member's own."""

    check: str
    limit: Bound


class Case(_Part):
    """One reviewed set. week: of the calendar, ``2026-W48``; counted: the trainer's count where it differs.

    shares: each repetition's share of the usual range, by its number; marks: names of the points that were
    marked; tempo: lift and lower (s) where one was asked; new: the member was new to the machines.
    """

    schema_: Literal["plumbset.case/1"] = Field("plumbset.case/1", alias="schema")
    week: str = Field(pattern=r"^\d{4}-W\d{2}$")
    exercise: str
    plumbset: str
    view: ViewName
    in_cm: bool
    count: int | None
    counted: int | None
    reps: list[RepPart]
    shares: dict[int, float]
    marks: list[str]
    new: bool
    tempo: tuple[float, float] | None
    limits: list[CaseLimit]
    findings: list[CaseFinding]
    missed: list[CaseMissed]


def case_of(
    report: SetReport, said: Mapping[str, Said], exercise: Exercise, done_on: date, counted: int | None
) -> Case | None:
    """A set as a case; None where nothing of it was judged or no trainer has said anything."""
    words = {k: s.kind for k, s in said.items() if s.kind in ("agree", "reword", "no-fault")}
    added = [s for k, s in said.items() if k.startswith("added:") and s.kind == "added"]
    if (
        not report.quality.usable
        or report.quality.view is None
        or not (words or added or counted is not None)
    ):
        return None
    year, week, _ = done_on.isocalendar()
    return Case.model_validate(
        {
            "schema": "plumbset.case/1", "week": f"{year}-W{week:02}", "exercise": report.exercise,
            "plumbset": str(report.versions.get("plumbset", "")), "view": report.quality.view,
            "in_cm": report.scale.unit == "cm", "count": report.count, "counted": counted,
            "reps": report.reps, "shares": _shares(report, exercise),
            "marks": [mark.name for mark in report.machine.marks] if report.machine else [],
            "new": report.member is not None and report.member.new,
            "tempo": report.tempo.asked_s if report.tempo else None,
            "limits": [{"check": o.check, "limit": o.limit} for o in report.member.limits]
            if report.member
            else [],
            "findings": [_finding(f, words.get(key_of(f))) for f in report.findings],
            "missed": [_missed(report, one) for one in added],
        }
    )  # fmt: skip


def _finding(finding: FindingPart, word: str | None) -> dict[str, object]:
    of = set(CaseFinding.model_fields) - {"doubted", "said"}
    return finding.model_dump(include=of) | {"doubted": finding.reason in DOUBTED, "said": word}


def _missed(report: SetReport, said: Said) -> dict[str, object]:
    at = said.time_s or 0.0
    return {"time_s": at, "rep": rep_at(report, at), "check": said.check or None}


def _shares(report: SetReport, exercise: Exercise) -> dict[int, float]:
    """Each repetition's share of the usual range, as its check has measured it."""
    ids = {spec.id for spec in exercise.checks if spec.measure == "range_share"}
    return {
        f.rep: f.measured / 100.0
        for f in report.findings
        if f.check in ids and f.rep is not None and f.measured is not None
    }


def outcome(verdict: Verdict, word: str) -> CaseOutcome | None:
    """What a trainer's word makes of a finding; None where it says nothing of the tool."""
    if word == "no-fault":
        return "wrong" if verdict == "flag" else None
    if word not in ("agree", "reword"):
        return None
    return "right" if verdict == "flag" else "watched" if verdict == "watch" else "missed"


@dataclass(frozen=True)
class Judged:
    """One finding that a trainer spoke of; week: the Monday of the week in which its set was done."""

    week: date
    exercise: str
    check: str
    outcome: CaseOutcome


@dataclass(frozen=True)
class Tally:
    """How many findings of one check, or of one week, came out how."""

    of: tuple[str, str]
    counts: Mapping[CaseOutcome, int]

    def __getitem__(self, name: CaseOutcome) -> int:
        return self.counts.get(name, 0)


def by_check(found: Iterable[Judged]) -> list[Tally]:
    """A tally for each machine and check, those the trainer corrected most first."""
    tallies = _tallied((one.exercise, one.check, one.outcome) for one in found)
    return sorted(tallies, key=lambda t: (-(t["wrong"] + t["missed"]), t.of))


def by_week(found: Iterable[Judged]) -> list[Tally]:
    """A tally for each week in which something was decided, the newest first; of: its Monday."""
    tallies = _tallied((one.week.isoformat(), "", one.outcome) for one in found)
    return sorted(tallies, key=lambda t: t.of, reverse=True)


def _tallied(rows: Iterable[tuple[str, str, CaseOutcome]]) -> list[Tally]:
    counts: dict[tuple[str, str], Counter[CaseOutcome]] = {}
    for first, second, name in rows:
        counts.setdefault((first, second), Counter())[name] += 1
    return [Tally(of, each) for of, each in counts.items()]


def found_words(tallies: Sequence[Tally]) -> str:
    """``Of 20 flags 18 were right; 2 faults were missed.``"""
    right, wrong, missed = (sum(t[name] for t in tallies) for name in ("right", "wrong", "missed"))
    flags = right + wrong
    told = f"Of {flags} flag{'s' * (flags != 1)} {right} {'was' if right == 1 else 'were'} right"
    return f"{told}; {missed} fault{'s' * (missed != 1)} {'was' if missed == 1 else 'were'} missed."
