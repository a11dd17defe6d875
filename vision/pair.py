"""Two clips of one set -> one report: aligned by their motion, each check answered from the better view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.signal import correlate, correlation_lags

from shared.domain import Clip, Floats, Rep
from shared.exercise import Exercise
from shared.faults import is_own_range
from shared.own_range import OTHER_SIDE
from shared.report import FindingPart, SetReport
from vision.common.notices import left_out_words
from vision.common.seams import LimbSource, PoseEstimator, Progress
from vision.judging.evidence import VIEW
from vision.judging.options import Options
from vision.pipeline import analyse
from vision.telling.analysis import Analysis

#: Drives are compared at this rate.
RATE_HZ = 20.0
#: So much before and after the set is compared as well.
MARGIN_S = 5.0
#: Two clips show one set when their drives agree (normalised cross-correlation) this well, and better
#: by this much than at any place half a repetition or more away.
AGREE = 0.6
CLEARLY = 0.03
#: The second view answers where its uncertainty is smaller than this share of the first's.
SURER = 0.8
#: Clips that start so close to each other, in s, start together.
SOON_S = 0.05


@dataclass(frozen=True)
class Pair:
    """Both analyses; both carry the joint report, and the second clip a name of its own."""

    first: Analysis
    second: Analysis


def analyse_pair(
    sources: tuple[LimbSource, LimbSource],
    exercise: Exercise,
    pose: PoseEstimator,
    options: Options,
    progress: Progress | None = None,
) -> Pair:
    """Judge a set that was filmed twice; the first clip's times are the report's.

    side, subject, marks and reference belong to the first clip; sights hold for both. Raises as ``analyse``.
    """
    report = progress or (lambda share: None)
    first = analyse(
        sources[0], exercise, pose=pose, options=options, progress=lambda share: report(share / 2)
    )
    rest = replace(options, side=None, subject=None, marks=(), reference=None)
    second = analyse(
        sources[1], exercise, pose=pose, options=rest, progress=lambda share: report((1 + share) / 2)
    )
    return join(first, second)


def join(first: Analysis, second: Analysis) -> Pair:
    """The joint report of two analyses of one exercise."""
    second = _own_limits_apart(first.exercise, _named_apart(first.clip, second))
    notes, findings, notices, second = _joined(first, second)
    clips = [first.report.clip, second.report.clip]
    quality = first.report.quality.model_copy(update={"notes": [*first.report.quality.notes, *notes]})
    report = first.report.model_copy(
        update={
            "clips": clips,
            "findings": findings,
            "quality": quality,
            "notices": [*first.report.notices, *notices],
        }
    )
    exercise = _with_checks_of(first.exercise, second.exercise)
    return Pair(replace(first, report=report, exercise=exercise), replace(second, report=report))


def in_first_times(pair: Pair) -> SetReport:
    """The joint report with every moment in the first clip's time (s), for a page that plays that one alone.

    What the second clip answered keeps its name there, and no frame.
    """
    report, name = pair.first.report, pair.second.clip.file
    if not any(f.clip == name for f in report.findings):
        return report
    lag_s = align(pair.first, pair.second).lag_s or 0.0
    moved = [
        f.model_copy(update={"time_s": None if f.time_s is None else f.time_s + lag_s, "frame": None})
        if f.clip == name
        else f
        for f in report.findings
    ]
    return report.model_copy(update={"findings": moved})


def _named_apart(clip: Clip, second: Analysis) -> Analysis:
    if second.clip.file != clip.file:
        return second
    name = f"{clip.file} (second)"
    part = second.report.clip.model_copy(update={"file": name})
    report = second.report.model_copy(update={"clip": part})
    return replace(second, clip=replace(second.clip, file=name), report=report)


def _joined(first: Analysis, second: Analysis) -> tuple[list[str], list[FindingPart], list[str], Analysis]:
    """Notes, findings and notices of the joint report, and the second clip with the numbers used there."""
    own = [_from(f, first.clip.file) for f in first.report.findings]
    name = second.clip.file
    if not first.report.quality.usable:
        other = "it is fit to judge by itself" if second.report.quality.usable else "it is not fit either"
        return [f"The second clip, {name}, was looked at as well: {other}."], own, [], second
    if not second.report.quality.usable:
        why = " ".join(problem.text for problem in second.report.quality.problems)
        return [left_out_words(name, why)], own, [], second
    aligned = align(first, second)
    if aligned.lag_s is None:
        return [left_out_words(name, aligned.why)], own, [], second
    numbers = match_reps(_reps(first), _reps(second), aligned.lag_s)
    others = _renumbered(second.report.findings, numbers, name)
    findings, answered = _better(own, others, _with_checks_of(first.exercise, second.exercise))
    notes = [
        f"{name} shows the same set as {first.clip.file}; {_start_words(aligned.lag_s)}.",
    ]
    if answered:
        notes.append(f"Answered from {name}: {', '.join(answered).lower()}.")
    notices = _count_notice(first.report, second.report, name)
    return notes, findings, notices, _with_numbers(second, numbers)


def _start_words(lag_s: float) -> str:
    if abs(lag_s) < SOON_S:
        return "both clips start together"
    return f"it starts {abs(lag_s):.1f} s {'earlier' if lag_s < 0 else 'later'}"


def _reps(analysis: Analysis) -> tuple[Rep, ...]:
    return analysis.reps.reps if analysis.reps is not None else ()


def _from(finding: FindingPart, clip: str) -> FindingPart:
    return finding.model_copy(update={"clip": clip})


def _count_notice(first: SetReport, second: SetReport, name: str) -> list[str]:
    if first.count == second.count:
        return []
    return [
        f"The two clips give different counts: {first.count} in {first.clip.file}, {second.count} in {name}. "
        "Look at both; the report keeps to the first."
    ]


@dataclass(frozen=True)
class Alignment:
    """lag_s: what to add to the second clip's times, None when the clips could not be aligned, and why."""

    lag_s: float | None
    agreement: float
    why: str = ""


def align(first: Analysis, second: Analysis) -> Alignment:
    """Where the second clip's motion fits the first's best."""
    a, b = _motion(first), _motion(second)
    size = float(np.sqrt((a**2).sum() * (b**2).sum()))
    if size == 0.0:
        return Alignment(None, 0.0, "it holds no motion to align by.")
    scores = correlate(a, b, mode="full") / size
    lags = correlation_lags(len(a), len(b), mode="full") / RATE_HZ
    best = int(np.argmax(scores))
    agreement = float(scores[best])
    if agreement < AGREE:
        return Alignment(None, agreement, "its motion does not fit the first clip's.")
    apart = np.abs(lags - lags[best]) >= 0.5 * _usual_s(_reps(first))
    if agreement - float(scores[apart].max(initial=-1.0)) < CLEARLY:
        return Alignment(None, agreement, "its motion fits the first clip's at more than one place.")
    return Alignment(float(lags[best]), agreement)


def _usual_s(reps: Sequence[Rep]) -> float:
    return float(np.median([r.duration_s for r in reps])) if reps else 0.0


def _motion(analysis: Analysis) -> Floats:
    """The drive's share of its range about the set at ``RATE_HZ``, less its mean; 0 farther from the set.

    What comes before and after the set tells where it begins, also where one view missed a repetition.
    """
    signal, reps = analysis.signals[analysis.exercise.drive.signal], analysis.reps
    known = ~np.isnan(signal.values)
    times = np.arange(0.0, float(signal.time_s[-1]), 1.0 / RATE_HZ)
    if reps is None or np.count_nonzero(known) < 2:
        return np.zeros(len(times))
    values = np.interp(times, signal.time_s[known], signal.values[known])
    inside = (times >= reps.start_s) & (times <= reps.end_s)
    low, high = np.percentile(values[inside], [5, 95])
    share = np.clip((values - low) / max(float(high - low), 1e-9), -0.2, 1.2)
    about = (times >= reps.start_s - MARGIN_S) & (times <= reps.end_s + MARGIN_S)
    return np.asarray(np.where(about, share - share[inside].mean(), 0.0))


def match_reps(first: Sequence[Rep], second: Sequence[Rep], lag_s: float) -> dict[int, int]:
    """The first clip's number of each of the second's repetitions that turn within half of one."""
    numbers: dict[int, int] = {}
    for rep in second:
        near = min(first, key=lambda r: abs(r.turn_s - rep.turn_s - lag_s), default=None)
        if near is None or abs(near.turn_s - rep.turn_s - lag_s) > near.duration_s / 2:
            continue
        if near.number not in numbers.values():
            numbers[rep.number] = near.number
    return numbers


def _renumbered(findings: Sequence[FindingPart], numbers: dict[int, int], clip: str) -> list[FindingPart]:
    kept = [f for f in findings if f.rep is None or f.rep in numbers]
    return [
        f.model_copy(update={"clip": clip, "rep": None if f.rep is None else numbers[f.rep]}) for f in kept
    ]


def _with_numbers(second: Analysis, numbers: dict[int, int]) -> Analysis:
    """The second clip with the first's numbers, by which its pictures find a repetition; others left out."""
    if second.reps is None:
        return second
    kept = tuple(replace(r, number=numbers[r.number]) for r in second.reps.reps if r.number in numbers)
    return replace(second, reps=replace(second.reps, reps=kept))


def _with_checks_of(first: Exercise, second: Exercise) -> Exercise:
    """The first clip's definition with the checks that only the second one has."""
    ids = {spec.id for spec in first.checks}
    more = [spec for spec in second.checks if spec.id not in ids]
    return first.model_copy(update={"checks": (*first.checks, *more)})


def _own_limits_apart(first: Exercise, second: Analysis) -> Analysis:
    """The second clip with a name of its own for a limit that holds for the side which it alone shows."""
    ours = {spec.id: spec.title for spec in first.checks if is_own_range(spec.id)}
    other = {s.id: f"{s.id}-second" for s in second.exercise.checks if ours.get(s.id, s.title) != s.title}
    checks = [s.model_copy(update={"id": other.get(s.id, s.id)}) for s in second.exercise.checks]
    told = [f.model_copy(update={"check": other.get(f.check, f.check)}) for f in second.report.findings]
    return replace(
        second, exercise=second.exercise.model_copy(update={"checks": tuple(checks)}),
        report=second.report.model_copy(update={"findings": told}),
    )  # fmt: skip


def _better(
    own: Sequence[FindingPart], others: Sequence[FindingPart], exercise: Exercise
) -> tuple[list[FindingPart], list[str]]:
    """Findings by check from the view that tells more, and the titles of those the second answered."""
    out: list[FindingPart] = []
    answered = []
    for spec in exercise.checks:
        mine = [f for f in own if f.check == spec.id]
        theirs = [f for f in others if f.check == spec.id]
        if spec.measure == OTHER_SIDE and not (mine and theirs):
            continue  # the other clip shows that side
        if not _tells_more(theirs, mine):
            out += theirs if _out_of_sight(mine) and not _out_of_sight(theirs) else mine
            continue
        answered.append(spec.title)
        told = {f.rep for f in theirs}
        both = [*theirs, *(f for f in mine if f.rep not in told)]
        out += sorted(both, key=lambda f: -1 if f.rep is None else f.rep)
    return out, answered


def _out_of_sight(findings: Sequence[FindingPart]) -> bool:
    """Whether the view can never show it: then what the other one says of it counts."""
    return all(f.reason_code == VIEW for f in findings)


def _tells_more(theirs: Sequence[FindingPart], mine: Sequence[FindingPart]) -> bool:
    def told(findings: Sequence[FindingPart]) -> list[FindingPart]:
        return [f for f in findings if f.verdict != "cannot-tell"]

    if len(told(theirs)) != len(told(mine)):
        return len(told(theirs)) > len(told(mine))
    halves = [[f.uncertainty for f in told(part) if f.uncertainty is not None] for part in (theirs, mine)]
    if not all(halves):
        return False
    return float(np.median(halves[0])) < SURER * float(np.median(halves[1]))
