"""Findings as page and report show them: one card a fault, the most worrying first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from shared.domain import Verdict
from shared.exercise import CheckSpec, Exercise
from shared.faults import joins, order_of
from shared.report import FindingPart, SetReport
from vision.judging.evidence import VIEW
from vision.telling.words import bound_words, measured_words, reps_words

#: A fault of the set's end is looked for in so many of its last repetitions.
LAST_REPS = 3


@dataclass(frozen=True, kw_only=True)
class Group:
    """All findings of one check that share a verdict, the clearest first.

    spec: the check's definition, None where it is not known any more. also: other sights of the same fault,
    told on its card.
    """

    check: str
    title: str
    verdict: Verdict
    findings: tuple[FindingPart, ...]
    limit: str
    spec: CheckSpec | None
    also: tuple[Group, ...] = ()

    @property
    def every(self) -> tuple[FindingPart, ...]:
        """All findings of its card, those of its own check first."""
        return (*self.findings, *(f for other in self.also for f in other.findings))

    @property
    def lead(self) -> FindingPart:
        """The clearest."""
        return self.findings[0]

    @property
    def which(self) -> str:
        """``repetitions 4 and 9``, of all its card."""
        return reps_words([f.rep for f in self.every])

    @property
    def reps(self) -> list[int]:
        """The repetitions its card speaks of, in their order."""
        return sorted({f.rep for f in self.every if f.rep is not None})

    @property
    def facts(self) -> list[str]:
        """What the other checks of its card saw, a line each, in the report's own figures."""
        said = [(f"{g.title}, {g.which}: {g.measured}; limit {g.limit}", g.lead.reason) for g in self.also]
        return [f"{words}; {reason}" if reason else words for words, reason in said]

    @property
    def measured(self) -> str:
        """What was measured in the clearest, with its uncertainty, in words."""
        return measured_words(self.lead)

    @property
    def what(self) -> str:
        """What the check measures."""
        return self.spec.what if self.spec else ""

    @property
    def why(self) -> str:
        """Why it matters."""
        return self.spec.why if self.spec else ""

    @property
    def cannot_tell(self) -> str:
        """What it needs to tell."""
        return self.spec.cannot_tell if self.spec else ""

    @property
    def source(self) -> str:
        """Where its limit comes from."""
        return self.spec.source.cite if self.spec else ""


def groups(report: SetReport, exercise: Exercise | None, verdict: Verdict) -> list[Group]:
    """Findings with that verdict, a group a card, in the order of worry; of equals the whole set last.

    What the view can never show is left out: ``unseen`` tells it once. Of what cannot be told every check
    stands alone.
    """
    found: dict[str, list[FindingPart]] = {}
    for finding in report.findings:
        if finding.verdict == verdict and finding.reason_code != VIEW:
            found.setdefault(finding.check, []).append(finding)
    specs = {spec.id: spec for spec in exercise.checks} if exercise else {}
    made = {check: _group(parts, specs.get(check)) for check, parts in found.items()}
    told = {check: check for check in made} if verdict == "cannot-tell" else leads(found, last_reps(report))
    cards = [
        replace(group, also=tuple(made[other] for other in made if told[other] == check and other != check))
        for check, group in made.items()
        if told[check] == check
    ]
    return sorted(cards, key=lambda group: (order_of(group.check), all(f.rep is None for f in group.every)))


def last_reps(report: SetReport) -> set[int]:
    """The numbers of the set's last full repetitions."""
    return {rep.number for rep in [rep for rep in report.reps if not rep.partial][-LAST_REPS:]}


def leads(found: Mapping[str, Sequence[FindingPart]], last: set[int]) -> dict[str, str]:
    """For every check the one on whose card it is told: itself, or the one of which it is another sight.

    Of several the one that shows most in the ``last`` repetitions, then the likeliest.
    """
    told = {}
    for check in found:
        others = [other for other in joins(check) if other in found]
        told[check] = max(others, key=lambda c: len({f.rep for f in found[c]} & last), default=check)
    return {check: told[other] for check, other in told.items()}


def unseen(report: SetReport) -> list[str]:
    """What the view of the clip can never show, a sentence a reason."""
    titles: dict[str, list[str]] = {}
    for finding in report.findings:
        if finding.verdict == "cannot-tell" and finding.reason_code == VIEW:
            of = titles.setdefault(finding.reason or "cannot be seen from here", [])
            if finding.title and finding.title.lower() not in of:
                of.append(finding.title.lower())
    said = [f"{', '.join(of)}: {reason}." for reason, of in titles.items()]
    return [words[0].upper() + words[1:] for words in said]


def _group(parts: list[FindingPart], spec: CheckSpec | None) -> Group:
    first = parts[0]
    return Group(
        check=first.check,
        title=first.title or (spec.title if spec else first.check),
        verdict=first.verdict,
        findings=tuple(sorted(parts, key=lambda f: f.clearness, reverse=True)),
        limit=bound_words(first.limit, first.unit, spec),
        spec=spec,
    )
