"""What the body alone said against what printed tags said, clip by clip and over all.

Repetitions of one clip are alike, so the true limits of agreement may be somewhat wider than those of so many
differences suggest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from app.rules.limits_of_agreement import limits_of_agreement
from shared.proof import FEW_CLIPS, Agreement, MachineProof, Proof, What
from shared.report import RepPart, SetReport
from shared.report_machine import LoadRepPart

UNITS: dict[What, str] = {
    "count": "reps", "lift": "s", "hold": "s", "lower": "s", "pause": "s", "range": "degrees"
}  # fmt: skip
WORDS: dict[What, str] = {
    "count": "Repetitions", "lift": "Time of the lift", "hold": "Time held at the lift end",
    "lower": "Time of the lower", "pause": "Pause between repetitions", "range": "Range of motion",
}  # fmt: skip
#: Fewer differences than this have no limits of agreement.
FEWEST = 5


@dataclass(frozen=True)
class Pair:
    """One thing as the body gave it and as the tags did."""

    what: What
    body: float
    tag: float

    @property
    def difference(self) -> float:
        """Body less tag."""
        return self.body - self.tag


@dataclass(frozen=True)
class ClipProof:
    """One clip's pairs; rests: how often the load came to rest on the stack in the set, None: not known."""

    clip: str
    exercise: str
    pairs: tuple[Pair, ...]
    rests: int | None


def clip_proof(report: SetReport) -> ClipProof | None:
    """What one report proves; None where no stack or lever tag was followed, or the clip is not judged."""
    tags = {m.name for m in report.machine.marks if m.tag} if report.machine is not None else set()
    if report.machine is None or report.count is None or not tags & {"stack", "lever"}:
        return None
    pairs: list[Pair] = []
    load = report.machine.load if "stack" in tags else None
    if load is not None:
        if load.count is not None:
            pairs.append(Pair("count", report.count, load.count))
        pairs += _times(report.reps, load.reps)
    lever = report.machine.lever
    full = [rep.drive_max_deg - rep.drive_min_deg for rep in report.reps if not rep.partial]
    if lever is not None and lever.range_deg is not None and full:
        pairs.append(Pair("range", float(np.median(full)), lever.range_deg))
    rests = None
    if load is not None and report.reps:
        start_s, end_s = report.reps[0].start_s, report.reps[-1].end_s
        rests = sum(start_s < rest.start_s and rest.end_s < end_s for rest in load.rests)
    return ClipProof(report.clip.file, report.exercise, tuple(pairs), rests)


def _times(reps: Sequence[RepPart], loads: Sequence[LoadRepPart]) -> list[Pair]:
    own = {load.number: load for load in loads}
    pairs: list[Pair] = []
    for rep in reps:
        load = own.get(rep.number)
        if load is None or load.turn_s is None or load.lower_start_s is None:
            continue
        if load.lift_s is not None and load.lower_s is not None:
            pairs += [Pair("lift", rep.lift_s, load.lift_s), Pair("lower", rep.lower_s, load.lower_s)]
        pairs.append(Pair("hold", rep.hold_s, load.lower_start_s - load.turn_s))
    for rep, after in pairwise(reps):
        before, following = own.get(rep.number), own.get(after.number)
        if rep.rest_s is None or before is None or following is None:
            continue
        if before.end_s is not None and following.start_s is not None:
            pairs.append(Pair("pause", rep.rest_s, max(0.0, following.start_s - before.end_s)))
    return pairs


def agreement(pairs: Iterable[Pair], what: What) -> Agreement | None:
    """Limits of agreement of one thing; None where there is no pair of it."""
    both = np.array([(pair.body, pair.tag) for pair in pairs if pair.what == what]).reshape(-1, 2)
    if not len(both):
        return None
    unit = UNITS[what]
    if len(both) < FEWEST:
        mean = float((both[:, 0] - both[:, 1]).mean())
        return Agreement(what=what, unit=unit, n=len(both), mean=mean)
    found = limits_of_agreement(both[:, 0], both[:, 1])
    return Agreement(
        what=what, unit=unit, n=found.n, mean=found.bias, sd=found.sd, low=found.lower, high=found.upper
    )


def agreements(clips: Sequence[ClipProof]) -> list[Agreement]:
    """Of everything that was compared, over all these clips."""
    pairs = [pair for clip in clips for pair in clip.pairs]
    return [found for what in WORDS if (found := agreement(pairs, what)) is not None]


def numbers(clips: Sequence[ClipProof]) -> Proof:
    """Numbers by machine and nothing else: no clip, no name, no day."""
    machines = {}
    for name in exercises_of(clips):
        own = [clip for clip in clips if clip.exercise == name]
        machines[name] = MachineProof(clips=len(own), agreement=[_rounded(one) for one in agreements(own)])
    return Proof(machines=machines)


def exercises_of(clips: Sequence[ClipProof]) -> list[str]:
    """The exercises that these clips show, in order."""
    return sorted({clip.exercise for clip in clips})


def _rounded(found: Agreement) -> Agreement:
    values = {name: getattr(found, name) for name in ("mean", "sd", "low", "high")}
    return found.model_copy(update={k: None if v is None else round(v, 3) for k, v in values.items()})


def trust(clips: Sequence[ClipProof]) -> str:
    """One sentence: how far this studio may trust clips without tags."""
    counted = [pair for clip in clips for pair in clip.pairs if pair.what == "count"]
    if len(clips) < FEW_CLIPS:
        return (
            "Cannot tell yet how far to trust clips without tags: "
            f"{len(clips)} of at least {FEW_CLIPS} clips with a tag were judged."
        )
    said = []
    if counted:
        same = sum(pair.difference == 0 for pair in counted)
        said.append(f"the count was the same in {same} of {len(counted)}")
    for found in agreements(clips):
        if found.what in ("lift", "lower", "range") and found.low is not None and found.high is not None:
            off = max(abs(found.low), abs(found.high))
            said.append(f"{WORDS[found.what].lower()} was within {off:.2g} {UNITS[found.what]} in 95 of 100")
    told = "; ".join(said) if said else "nothing could be compared"
    return f"Of {len(clips)} clips with tags, by the body alone, {told}: trust clips without tags no further."
