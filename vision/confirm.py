"""A flag must show in a second look: at the same pictures, mirrored, which the landmark model reads anew.

Now and then the model changes its mind within a set and sees a joint a hand's breadth elsewhere. In the
mirror image it does not do so at the same moments, so what both looks show is there.
"""

from __future__ import annotations

from shared.report import FindingPart, RepPart, SetReport

LOOKED_AGAIN = "flags looked for again in mirrored pictures"
NOT_CONFIRMED = "a second look, at the mirrored pictures, does not show it"


def has_flags(report: SetReport) -> bool:
    """Whether a flag has a moment to look at again; count and tempo of the set alone have none."""
    return any(flag.time_s is not None for flag in report.flags())


def confirmed(report: SetReport, second: SetReport) -> SetReport:
    """The report with those flags on "watch" that the second look finds clear at the same repetition.

    Where the second look could not judge, a flag stands.
    """
    clear = {(f.check, f.rep) for f in second.findings if f.verdict == "clear"}
    same: dict[int | None, int | None] = {None: None}
    same |= {rep.number: number for rep in report.reps if (number := _same(rep, second.reps))}

    def doubted(finding: FindingPart) -> bool:
        rep = finding.rep
        return finding.verdict == "flag" and rep in same and (finding.check, same[rep]) in clear

    on_watch = {"verdict": "watch", "prompt": None, "reason": NOT_CONFIRMED}
    findings = [f.model_copy(update=on_watch) if doubted(f) else f for f in report.findings]
    return report.model_copy(update={"findings": findings, "steps": [*report.steps, LOOKED_AGAIN]})


def _same(rep: RepPart, reps: list[RepPart]) -> int | None:
    """The number of the repetition during which this one reaches its lift end."""
    middle = (rep.turn_s + rep.lower_start_s) / 2
    return next((other.number for other in reps if other.start_s <= middle <= other.end_s), None)
