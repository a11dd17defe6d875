"""How far an analysis lies from what was done: what was counted, listed and flagged, and what was refused."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shared.report import FindingPart
from tests.variety.looks import HIDDEN, HIDDEN_SEEN
from tests.variety.script import DoneRep
from tests.variety.sets import MadeSet
from vision.measuring.reps.cut_ends import BEGINS, ENDS
from vision.telling.analysis import Analysis

#: Two spans of time are one repetition when they share this part of both together.
SAME_SPAN = 0.4
#: Sets of five to twelve repetitions miss the target of any definition; a made lean is no false flag.
RIGHT_ANYWAY = ("rep-target",)
LEANS = ("chest-drop", "lean-back", "start-posture", "late-fade-posture", "shrug", "head-drop", "head-level")


@dataclass(frozen=True)
class Score:
    """One set. off: counted less done; outside: repetitions that nobody made; outside_flags: flags there.

    missed: whole repetitions, seen throughout, that no full one stands for; false_flags: flags on repetitions
    that were made well; told: whether a cut end was told of, None where nothing was cut; leans: made, found.
    """

    refused: bool
    off: int
    outside: int
    outside_flags: int
    missed: int
    false_flags: int
    told: bool | None
    leans: tuple[int, int]
    which: tuple[str, ...] = ()


def score(made: MadeSet, found: Analysis) -> Score:
    """The score of one analysis."""
    report = found.report
    if report.count is None:
        codes = tuple(p.code for p in report.quality.problems)
        return Score(True, 0, 0, 0, 0, 0, None, (len(made.leaned), 0), codes)
    pairs = {rep.number: done_of(rep.start_s, rep.end_s, made.reps) for rep in report.reps}
    outside = {n for n, i in pairs.items() if i is None}
    hidden = _hidden(made) | _shortened(made)
    least, most = len(made.whole) - len(hidden), len(made.whole)
    full = {pairs[rep.number] for rep in report.reps if not rep.partial}
    missed = [i for i, rep in enumerate(made.reps) if rep in made.whole and i not in full and i not in hidden]
    flags = [f for f in report.flags() if f.check not in RIGHT_ANYWAY]
    false = [f for f in flags if f.rep not in outside and not _right(f, pairs, made)]
    cut = any(rep.cut for rep in made.reps)
    leaned = {pairs.get(f.rep or 0) for f in flags if f.check in ("chest-drop", "lean-back")}
    return Score(
        refused=False,
        off=report.count - min(max(report.count, least), most),
        outside=len(outside),
        outside_flags=sum(f.rep in outside for f in flags),
        missed=len(missed),
        false_flags=len(false),
        told=any(note in (BEGINS, ENDS) for note in report.quality.notes) if cut else None,
        leans=(len(made.leaned), len(leaned & set(made.leaned))),
        which=tuple(f"{f.check}:{f.rep}" for f in false),
    )


def done_of(start_s: float, end_s: float, reps: Iterable[DoneRep]) -> int | None:
    """Which of those made a movement between two moments is; None for none."""
    shares = [_shared(start_s, end_s, r.start_s, r.end_s) for r in reps]
    best = max(range(len(shares)), key=lambda i: shares[i])
    return best if shares[best] >= SAME_SPAN else None


def _shared(a: float, b: float, c: float, d: float) -> float:
    return max(0.0, min(b, d) - max(a, c)) / (max(b, d) - min(a, c))


def _right(flag: FindingPart, pairs: dict[int, int | None], made: MadeSet) -> bool:
    """Whether a flag may stand: of a repetition made badly or cut, or of a set that holds one such."""
    if flag.rep is None:
        return (flag.check in LEANS and bool(made.leaned)) or any(rep.bad for rep in made.reps)
    i = pairs.get(flag.rep)
    if i is None:
        return True
    return made.reps[i].share < 0.8 or made.reps[i].cut or made.reps[i].bad or i in made.leaned


def _shortened(made: MadeSet) -> set[int]:
    """Arms that push or part stay bent where the trunk leans: how far such a repetition went nobody says."""
    return set(made.leaned) if made.exercise in ("chest-press", "chest-fly", "reverse-fly") else set()


def _hidden(made: MadeSet) -> set[int]:
    """Repetitions of which more than a tenth was hidden."""
    if HIDDEN not in made.slips:
        return set()
    people = made.people
    unseen = (people.visibility[:, 0] == HIDDEN_SEEN).any(axis=-1)
    inside = [(people.time_s >= r.start_s) & (people.time_s <= r.end_s) for r in made.reps]
    return {i for i, rows in enumerate(inside) if rows.any() and unseen[rows].mean() > 0.1}


def table(scores: list[Score]) -> dict[str, str]:
    """The figures of many sets, in words."""
    judged = [s for s in scores if not s.refused]
    n = max(1, len(judged))
    told = [s.told for s in judged if s.told is not None]
    made, right = (sum(s.leans[i] for s in judged) for i in (0, 1))
    return {
        "sets": str(len(scores)),
        "refused": f"{sum(s.refused for s in scores)}",
        "count exact": f"{100 * sum(s.off == 0 for s in judged) / n:.1f} %",
        "off by at most one": f"{100 * sum(abs(s.off) <= 1 for s in judged) / n:.1f} %",
        "outside listed": f"{sum(s.outside for s in judged)} in {sum(s.outside > 0 for s in judged)} sets",
        "flags outside": f"{sum(s.outside_flags for s in judged)}",
        "whole repetitions missed": f"{sum(s.missed for s in judged)}",
        "false flags a set": f"{sum(s.false_flags for s in judged) / n:.2f}",
        "cut ends told": f"{sum(told)} of {len(told)}",
        "leans found": f"{right} of {made}",
    }
