"""The whole way from a clip to a report: follow, measure, judge, tell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from shared.domain import Floats, Landmarks
from shared.exercise import Exercise, tagged_exercise
from shared.report import SetReport
from vision.common.seams import FrameSource, LimbSource, PoseEstimator, Progress
from vision.judging.bind import bind
from vision.judging.confirm import (
    BESIDE_SHARE,
    LOOKED_AGAIN,
    NO_LOOK,
    ONE_OF_TWO,
    LookOutcome,
    confirmed,
    other_counts,
    which_stands,
    worth_another_look,
)
from vision.judging.judge import Judged, judge_set
from vision.judging.options import Options
from vision.judging.proven import least_of, widened
from vision.judging.quality import may_show_in_another_look
from vision.measuring.machine.shown import followed, with_marks
from vision.measuring.measure import Measured, measure
from vision.measuring.reps.seat_setting import only_sets_up
from vision.measuring.track.seat import TRUNK, beside_seat_share
from vision.measuring.track.two_looks import mean_of_looks
from vision.seeing.follow import lost_share, pick
from vision.seeing.look import Seen, look_again, look_closely, survey_clip
from vision.seeing.survey_as_look import as_close_look
from vision.telling.analysis import Analysis
from vision.telling.first_look import FirstLook, correction
from vision.telling.report import build_report

#: Said where tags are seen, and none of the machine that was named.
OTHER_TAGS = "The printed tags in the clip are those of another machine: {title}. Check which one it is."
#: A clip is looked at once more where more than this share of the first look shows somebody else, or nobody.
LOST_SHARE = 0.1


def analyse(
    source: LimbSource,
    exercise: Exercise,
    pose: PoseEstimator,
    options: Options | None = None,
    progress: Progress | None = None,
    threads: int = 2,
    first: Callable[[FirstLook], None] | None = None,
) -> Analysis:
    """Judge one clip of one set; the result is the same with any number of threads.

    first: told what the survey alone shows, long before the careful look is over; where that counts
    otherwise, the report says so.

    Raises
    ------
    DefinitionError : a name in the definition is unknown. ClipError : the clip cannot be read.
    UsageError : ``options.subject`` lies on nobody.
    """
    options, report = options or Options(), progress or (lambda share: None)
    bind(exercise)
    seen = survey_clip(
        source, pose, options.subject, progress=lambda share: report(0.15 * share), threads=threads
    )
    said = None if first is None else first_look(seen, exercise, options)
    if first is not None and said is not None:
        first(said)
    seen = look_closely(
        source, pose, seen, marks=options.marks, limbs=exercise.drive_joint is not None,
        progress=lambda share: report(0.15 + 0.6 * share), threads=threads,
    )  # fmt: skip
    seen = _with_tags(seen, source, exercise, lambda share: report(0.75 + 0.05 * share))

    def again() -> Landmarks:
        return look_again(
            source, pose, seen=seen, progress=lambda share: report(0.8 + 0.2 * share), threads=threads
        )

    analysis = judge_twice(seen, exercise, options=options, again=again)
    return analysis if said is None else _corrected(analysis, said)


def first_look(seen: Seen, exercise: Exercise, options: Options) -> FirstLook:
    """What can be said of a set before anybody has looked closely. See ``analyse`` for the errors."""
    return FirstLook.of(_early_report(seen, exercise, options), exercise.motion)


def _early_report(seen: Seen, exercise: Exercise, options: Options) -> SetReport:
    return judge_seen(as_close_look(seen) or seen, exercise, options).report


def survey_alone(
    source: FrameSource, exercise: Exercise, pose: PoseEstimator, threads: int = 2
) -> SetReport | None:
    """What the survey tells of a set, in a quarter of the time: its count and tempo, not how it was done.

    None where somebody only set up the seat. See ``analyse`` for the errors.
    """
    bind(exercise)
    seen = survey_clip(source, pose, threads=threads)
    if seen.subject is not None and only_sets_up(seen.survey, seen.subject.poses_px):
        return None
    return _early_report(seen, exercise, Options())


def _corrected(analysis: Analysis, said: FirstLook) -> Analysis:
    """With a note where the careful look counts otherwise than what was said first."""
    note = correction(said, analysis.report)
    if not note:
        return analysis
    quality = analysis.report.quality
    quality = quality.model_copy(update={"notes": [note, *quality.notes]})
    return replace(analysis, report=analysis.report.model_copy(update={"quality": quality}))


def _with_tags(seen: Seen, source: FrameSource, exercise: Exercise, progress: Progress) -> Seen:
    """With the paths of the machine's printed tags, if any; a mark given by hand goes first."""
    from vision.seeing.tag_tracker import seen_machines, seen_tags, track_tags

    if seen.subject is None or exercise.tag_number is None or not (markers := seen_tags(source)):
        return seen
    if exercise.tag_number not in (machines := seen_machines(markers)):
        other = tagged_exercise(machines[0])
        title = f"number {machines[0]}" if other is None else other.title.lower()
        return replace(seen, notes=(*seen.notes, OTHER_TAGS.format(title=title)))
    tags = track_tags(source, exercise.tag_number, markers, progress)
    return replace(seen, marks={**tags, **seen.marks})


def judge_twice(seen: Seen, exercise: Exercise, options: Options, again: Callable[[], Landmarks]) -> Analysis:
    """From landmarks to the report, by two looks where the first one is not enough.

    That is, where it raises anything grave, or lost the person, their seat or a limb. Their mean is told, or
    one of them where the mean is worse, and a flag must show in one of the two and be cleared by none. again:
    what ``look_again`` gives. See ``analyse`` for the errors.
    """
    first = _stages(seen, exercise, options)
    if seen.dense is None or seen.subject is None:
        return _analysis_of(first)
    judged = first.judged
    missed = (
        lost_share(seen.dense, seen.subject) > LOST_SHARE
        or first.beside_seat("hip") > BESIDE_SHARE
        or may_show_in_another_look(judged.problems)
    )
    if not (options.thorough or missed or worth_another_look(judged.findings)):
        return _analysis_of(first)
    second = again()
    alone = _stages(replace(seen, dense=second), exercise, options)
    one, other = (pick(look, seen.subject) for look in (seen.dense, second))
    mean = mean_of_looks(one, other, seated=exercise.seated)
    both = _stages(replace(seen, dense=mean), exercise, options)
    looks = (first.outcome, alone.outcome)
    stands = which_stands(both.outcome, looks)
    kept = next(one for one in (both, first, alone) if one.outcome is stands)
    # A look that missed something, or is not fit, counts nothing that another one is to be held against.
    counted = [look for look in (looks[1:] if missed else looks) if look.fit]
    notes = other_counts(stands, counted) if stands.fit else []
    judged = replace(kept.judged, findings=confirmed(stands, looks), notes=(*kept.judged.notes, *notes))
    step = LOOKED_AGAIN if kept is both else ONE_OF_TWO if stands.fit else NO_LOOK
    return _analysis_of(replace(kept, judged=judged), step)


def judge_seen(seen: Seen, exercise: Exercise, options: Options) -> Analysis:
    """From the landmarks of one look to the report. See ``analyse`` for the errors."""
    return _analysis_of(_stages(seen, exercise, options))


@dataclass(frozen=True, kw_only=True)
class _Stages:
    """One look at a clip, measured and judged, before anything is told of it.

    definition: the exercise before the member's limits; exercise: with them.
    """

    seen: Seen
    definition: Exercise
    exercise: Exercise
    options: Options
    measured: Measured
    judged: Judged

    def beside_seat(self, *parts: str) -> float:
        """The share of the time on a seat in which these parts lay beside it; 0 where nobody was followed."""
        track = self.measured.track
        return beside_seat_share(track, parts) if track is not None and self.exercise.seated else 0.0

    @cached_property
    def outcome(self) -> LookOutcome:
        """What another look is held against."""
        reps = self.measured.reps
        return LookOutcome(
            self.judged.findings, () if reps is None else reps.reps,
            fit=not self.judged.problems, beside_seat=self.beside_seat(*TRUNK),
        )  # fmt: skip


def _stages(seen: Seen, exercise: Exercise, options: Options) -> _Stages:
    definition = with_marks(exercise, followed(seen.marks))
    measured = measure(
        _subject(seen), seen.clip, exercise=definition, plan=bind(definition).signals, marks=seen.marks,
        side=options.side, height_cm=options.height_cm, pivot_depth_cm=options.pivot_depth_cm,
        usual_range=partial(options.usual_range, definition.name), sights=options.sights, raw=options.raw,
        flow=seen.flow, camera=seen.camera,
    )  # fmt: skip
    exercise = options.exercise(definition, measured.shown)
    measured = widened(measured, exercise, least_of(options.proof, exercise))
    judged = judge_set(measured, seen, exercise=exercise, plan=bind(exercise), options=options)
    return _Stages(
        seen=seen, definition=definition, exercise=exercise, options=options, measured=measured, judged=judged
    )


def _analysis_of(found: _Stages, step: str | None = None) -> Analysis:
    seen, measured = found.seen, found.measured
    report = build_report(
        seen, measured, found.judged, definition=found.definition, exercise=found.exercise,
        options=found.options, step=step,
    )  # fmt: skip
    own = {} if measured.machine is None else measured.machine.signals
    return Analysis(
        clip=seen.clip, exercise=found.exercise, options=found.options,
        looks=(seen.survey,) if seen.dense is None else (seen.survey, seen.dense),
        subject=measured.subject, track=measured.track, tracks=measured.tracks,
        signals={**measured.signals, **own}, reps=measured.reps, report=report, machine=measured.machine,
    )  # fmt: skip


def _subject(seen: Seen) -> Landmarks:
    """The pose of the one to judge in each frame, one slot; nowhere known where nobody was found."""
    if seen.dense is not None and seen.subject is not None:
        return pick(seen.dense, seen.subject)

    def blank(values: Floats) -> Floats:
        return np.full_like(values[:, :1], np.nan)

    survey = seen.survey
    return Landmarks(
        survey.frame, survey.time_s, image_px=blank(survey.image_px), world_m=blank(survey.world_m),
        visibility=blank(survey.visibility), presence=blank(survey.presence), model=survey.model,
    )  # fmt: skip
