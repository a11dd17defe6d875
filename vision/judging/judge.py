"""What was measured -> what is said of it: is the clip fit, what do the checks find, what has drifted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from shared.domain import Landmarks
from shared.exercise import Exercise
from shared.report import FindingPart, ReferencePart, RepPart
from vision.judging import quality
from vision.judging.bind import Plan
from vision.judging.check import Context
from vision.judging.close_count import close_counts
from vision.judging.findings import judge_reps
from vision.judging.guess import guess_words, likely_machines
from vision.judging.hidden import Lost, lost_notes, told_only, withheld
from vision.judging.options import Options
from vision.judging.proven import least_of
from vision.judging.reference import compare
from vision.measuring.measure import Measured
from vision.seeing.look import Seen

#: Who does not keep to one place for this long in all only walked past.
LEAST_STAY_S = 1.0


@dataclass(frozen=True, kw_only=True)
class Judged:
    """problems: why the clip is not fit, none where it is; guess: a sentence on another machine.

    likely: the names of that machine; findings: of every check, none where the clip is not fit; notes: where
    a limb was lost; reference: the comparison with an approved set.
    """

    problems: tuple[quality.Problem, ...]
    findings: tuple[FindingPart, ...] = ()
    guess: str | None = None
    likely: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    reference: ReferencePart | None = None


def judge_set(measured: Measured, seen: Seen, exercise: Exercise, plan: Plan, options: Options) -> Judged:
    """The clip's fitness, every check's findings, and the comparison with what the trainer approved."""
    problems = quality.clip_problems(seen.clip) + quality.picture_problems(seen.luma, seen.sharpness)
    track, reps = measured.track, measured.reps
    if track is None:
        return Judged(problems=(*problems, quality.problem("no-person")))
    likely = tuple(likely_machines(track, exercise, measured.stays))
    guess = guess_words(likely, exercise) if likely else None
    if np.nansum(measured.stays) < LEAST_STAY_S * track.rate_hz:
        problems.append(quality.problem("no-person"))
    else:
        problems += quality.subject_problems(measured.subject, track, reps, exercise, among=seen.subject)
    if not problems and seen.dense is not None:
        problems += quality.mixed_up_problems(track, exercise)
        problems += quality.unclear_problems(measured.strayed, exercise)
    if problems or reps is None:
        return Judged(problems=tuple(problems), guess=guess, likely=likely)
    least = least_of(options.proof, exercise)
    ctx = Context(
        track, measured.signals, reps=reps, exercise=exercise, machine=measured.machine, least=least
    )
    lost = quality.lost_limbs(measured.subject, track, reps, exercise)
    findings = _findings(ctx, plan, one=measured.subject, options=options, lost=lost)
    return Judged(
        problems=(), findings=tuple(findings), guess=guess, likely=likely,
        notes=(*lost_notes(lost, reps), *close_counts(ctx)), reference=_compared(seen, options, ctx),
    )  # fmt: skip


def _findings(ctx: Context, plan: Plan, one: Landmarks, options: Options, lost: Lost) -> list[FindingPart]:
    """What the checks say; of a repetition in which a limb was lost only what does not hang on it."""
    frame_at = list(zip(one.time_s.tolist(), one.frame.tolist(), strict=True))
    findings = judge_reps(ctx, plan, frame_at=frame_at, cleared=options.cleared)
    if not lost:
        return findings
    told = replace(ctx, reps=told_only(ctx.reps, lost))
    of_told = judge_reps(told, plan, frame_at=frame_at, cleared=options.cleared)
    return withheld(findings, of_told, lost=lost, plan=plan, drive_points=ctx.drive.points)


def _compared(seen: Seen, options: Options, ctx: Context) -> ReferencePart | None:
    if options.reference is None:
        return None
    reps = [RepPart.of(rep) for rep in ctx.reps.full]
    return compare(
        options.reference, reps, signals=ctx.signals, exercise=ctx.exercise,
        phase_half_s=ctx.learnt.duration_s, view=ctx.track.view.name, model=seen.model,
    )  # fmt: skip
