"""A second look, at the same pictures mirrored, which the landmark model reads anew.

Now and then the model changes its mind within a set and sees a joint a hand's breadth elsewhere. In the
mirror image it does not do so at the same moments, so the mean of both looks is nearer to the truth, and
a flag that either of them does not show is doubtful.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shared.domain import Rep, Verdict
from shared.faults import is_grave
from shared.report import FindingPart

LOOKED_AGAIN = "looked at again in mirrored pictures, mean of both looks"
ONE_OF_TWO = "looked at again in mirrored pictures, one look alone told: the mean of both lost something"
NO_LOOK = "looked at again in mirrored pictures: neither look could be judged"
#: Of 23 rendered sets that two looks counted differently 10 were counted wrong, of 106 others 10.
OTHER_COUNT = "Check the count against the clip: another look at it counted {others}."
NOT_CONFIRMED = "seen in one of two looks at the clip only"
NEITHER = "neither of two looks at the clip could tell it by itself"
DOUBTED = (NOT_CONFIRMED, NEITHER)
#: Hips that lie beside the seat for this share of the first look ask for a second one; a look in which the
#: trunk lies there for so much less of it than in the mean is better than the mean.
BESIDE_SHARE = 0.07


def worth_another_look(findings: Iterable[FindingPart]) -> bool:
    """Whether a flag, or a grave fault in doubt, has a moment to look at; count and tempo alone have none."""
    return any(
        f.time_s is not None and (f.verdict == "flag" or (f.verdict == "watch" and is_grave(f.check)))
        for f in findings
    )


@dataclass(frozen=True)
class LookOutcome:
    """What one look gave: its findings and its repetitions.

    fit: whether it can be judged; beside_seat: share of the time on a seat in which the trunk lay beside it.
    """

    findings: Sequence[FindingPart]
    reps: Sequence[Rep]
    fit: bool
    beside_seat: float

    @property
    def count(self) -> int:
        """Full repetitions."""
        return sum(not rep.partial for rep in self.reps)


def which_stands(both: LookOutcome, alone: Sequence[LookOutcome]) -> LookOutcome:
    """The mean of two looks, or one that is fit where the mean lost repetitions or the person.

    A limb that one look cannot see and another makes out may be invented: on a press whose arms a board hid
    throughout, five made up repetitions were told. So what one look and the mean cannot judge, or neither of
    the looks, is told by none.
    """
    if not any(look.fit for look in alone):
        return alone[0] if both.fit else both
    fit = [look for look in alone if look.fit and look.count >= both.count]
    if not fit:
        return both
    best = min(fit, key=lambda look: look.beside_seat)
    lost = both.beside_seat - best.beside_seat > BESIDE_SHARE
    can_tell = both.fit or all(look.fit for look in alone)
    return best if lost or (can_tell and _loses_repetitions(both, alone)) else both


def _loses_repetitions(both: LookOutcome, alone: Sequence[LookOutcome]) -> bool:
    """Whether the mean of two looks counts fewer than each of them: they read the limbs apart there."""
    return both.count < min((look.count for look in alone if look.reps), default=0)


def other_counts(kept: LookOutcome, alone: Sequence[LookOutcome]) -> list[str]:
    """What to say of a set of which the looks do not count the same."""
    others = sorted({look.count for look in alone if look.reps} - {kept.count})
    return [OTHER_COUNT.format(others=" or ".join(map(str, others)))] if others and kept.reps else []


def confirmed(both: LookOutcome, alone: Sequence[LookOutcome]) -> tuple[FindingPart, ...]:
    """The findings with those flags on "watch" that a look by itself finds clear at the same repetition.

    So are flags of what neither look by itself could judge; where one of them could, a flag stands.
    """
    clear = [_found(both, look, ("clear",)) for look in alone]
    raised = [_found(both, look, ("flag", "watch")) for look in alone]

    def doubt(finding: FindingPart) -> str:
        at = (finding.check, finding.rep)
        if finding.verdict != "flag":
            return ""
        if any(at in there for there in clear):
            return NOT_CONFIRMED
        return "" if any(at in there for there in raised) else NEITHER

    doubts = [(finding, doubt(finding)) for finding in both.findings]
    on_watch = {"verdict": "watch", "prompt": None}
    return tuple(f.model_copy(update=on_watch | {"reason": why}) if why else f for f, why in doubts)


def _found(both: LookOutcome, look: LookOutcome, verdicts: Sequence[Verdict]) -> set[tuple[str, int | None]]:
    """Check and repetition, as both looks together number them, of what one look finds so."""
    told = {(f.check, f.rep) for f in look.findings if f.verdict in verdicts}
    same = {rep.number: _same(rep, look.reps) for rep in both.reps}
    found = {(check, number) for number, there in same.items() for check, rep in told if rep == there}
    return found | {(check, None) for check, rep in told if rep is None}


def _same(rep: Rep, reps: Sequence[Rep]) -> int:
    """The number of the repetition during which this one reaches its lift end; 0 for none."""
    middle = (rep.turn_s + rep.lower_start_s) / 2
    return next((other.number for other in reps if other.start_s <= middle <= other.end_s), 0)
