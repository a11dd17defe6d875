"""A flag must show in a second look: at the same pictures, mirrored, which the landmark model reads anew.

Now and then the model changes its mind within a set and sees a joint a hand's breadth elsewhere. In the
mirror image it does not do so at the same moments, so what both looks show is there.
"""

from __future__ import annotations

from shared.report import FindingPart, RepPart, SetReport

NOT_CONFIRMED = "a second look, at the mirrored pictures, does not show it"


def has_flags(report: SetReport) -> bool:
    """Whether a flag has a moment to look at again; count and tempo of the set alone have none."""
    return any(f.verdict == "flag" and f.time_s is not None for f in report.findings)


def confirmed(report: SetReport, second: SetReport) -> SetReport:
    """The report with those flags on "watch" that the second look finds clear at the same repetition.

    Where the second look could not judge, a flag stands.
    """
    clear = {(f.check, f.rep) for f in second.findings if f.verdict == "clear"}
    same = {rep.number: _same(rep, second.reps) for rep in report.reps}

    def doubted(finding: FindingPart) -> bool:
        rep = None if finding.rep is None else same.get(finding.rep)
        known = finding.rep is None or rep is not None
        return finding.verdict == "flag" and known and (finding.check, rep) in clear

    on_watch = {"verdict": "watch", "prompt": None, "reason": NOT_CONFIRMED}
    findings = [f.model_copy(update=on_watch) if doubted(f) else f for f in report.findings]
    return report.model_copy(update={"findings": findings})


def _same(rep: RepPart, reps: list[RepPart]) -> int | None:
    """The number of the repetition during which this one reaches its lift end."""
    middle = (rep.turn_s + rep.lower_start_s) / 2
    return next((other.number for other in reps if other.start_s <= middle <= other.end_s), None)
