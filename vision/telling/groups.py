"""Findings by check, as page and report show them: one card for all that one check says alike."""

from __future__ import annotations

from dataclasses import dataclass

from shared.domain import Verdict
from shared.exercise import CheckSpec, Exercise
from shared.report import FindingPart, SetReport
from vision.telling.words import bound_words, measured_words, reps_words


@dataclass(frozen=True, kw_only=True)
class Group:
    """All findings of one check that share a verdict, the clearest first.

    spec: the check's definition, None where it is not known any more.
    """

    check: str
    title: str
    verdict: Verdict
    findings: tuple[FindingPart, ...]
    limit: str
    spec: CheckSpec | None

    @property
    def lead(self) -> FindingPart:
        """The clearest."""
        return self.findings[0]

    @property
    def which(self) -> str:
        """``repetitions 4 and 9``."""
        return reps_words([f.rep for f in self.findings])

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
    """Findings with that verdict by check, in the order of the report, what concerns the whole set last."""
    found: dict[str, list[FindingPart]] = {}
    for finding in report.findings:
        if finding.verdict == verdict:
            found.setdefault(finding.check, []).append(finding)
    specs = {spec.id: spec for spec in exercise.checks} if exercise else {}
    made = [_group(parts, specs.get(check)) for check, parts in found.items()]
    return sorted(made, key=lambda group: all(f.rep is None for f in group.findings))


def _group(parts: list[FindingPart], spec: CheckSpec | None) -> Group:
    first = parts[0]
    return Group(
        check=first.check,
        title=first.title or (spec.title if spec else first.check),
        verdict=first.verdict,
        findings=tuple(sorted(parts, key=lambda f: -f.excess)),
        limit=bound_words(first.limit, first.unit, spec),
        spec=spec,
    )
