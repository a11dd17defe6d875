"""Repetitions in which a needed limb was lost: what hangs on it is not told there, the rest of the set is."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from shared.domain import RepSet
from shared.report import FindingPart
from vision.common.quantities import listed, numbered
from vision.judging.bind import Plan

#: Number of a repetition -> the limbs lost in it, and the points they are seen by.
Lost = Mapping[int, tuple[tuple[str, str], ...]]
NOT_SEEN_WHOLE = "{where} could not be seen whole and may have been full: not counted, look at the clip."


def told_only(reps: RepSet, lost: Lost) -> RepSet:
    """The set's repetitions in which nothing was lost, under their own numbers."""
    return replace(reps, reps=tuple(rep for rep in reps.reps if rep.number not in lost))


def withheld(
    findings: Sequence[FindingPart], of_told: Sequence[FindingPart], lost: Lost, plan: Plan,
    drive_points: Sequence[str],
) -> list[FindingPart]:  # fmt: skip
    """Findings of which those that hang on a lost limb cannot be told.

    of_told: what the same checks say of ``told_only``; from there comes what concerns the whole set.
    """
    traits = {bound.spec.id: bound.traits for bound in plan.checks}
    whole = [f for f in of_told if f.rep is None and not traits[f.check].counts]
    kept = [f for f in findings if f.rep is not None or traits[f.check].counts]
    out = []
    for finding in kept:
        points = drive_points if traits[finding.check].by_drive else finding.points
        limbs = [limb for limb, point in lost.get(finding.rep or 0, ()) if point in points]
        out.append(_cannot_tell(finding, limbs) if limbs else finding)
    return out + whole


def _cannot_tell(finding: FindingPart, limbs: Iterable[str]) -> FindingPart:
    said: dict[str, object] = {
        "verdict": "cannot-tell", "measured": None, "uncertainty": None, "probability": None, "prompt": None,
        "time_s": None, "frame": None, "points": [], "reason_code": "limb-hidden",
        "reason": f"the {listed(list(dict.fromkeys(limbs)))} could not be seen for part of this repetition",
    }  # fmt: skip
    return finding.model_copy(update=said)


def lost_notes(lost: Lost, reps: RepSet) -> list[str]:
    """A note on each run of repetitions in which the same limbs were lost, and on those that may be full."""
    notes = []
    by_limbs = sorted((tuple(dict.fromkeys(limb for limb, _ in what)), n) for n, what in lost.items())
    for limbs, group in groupby(by_limbs, key=lambda item: item[0]):
        where = numbered([n for _, n in group])
        notes.append(
            f"The {listed(limbs)} could not be seen for part of {where}: "
            "what depends on that is not judged there."
        )
    if partial := [rep.number for rep in reps.reps if rep.partial and rep.number in lost]:
        notes.append(NOT_SEEN_WHOLE.format(where=numbered(partial).capitalize()))
    return notes
