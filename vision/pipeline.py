"""The whole way from a clip to a report."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from shared.domain import Floats, Landmarks, RepSet, Signal, Track
from shared.exercise import Exercise
from vision.common.geometry import distance
from vision.common.seams import FrameSource, PoseEstimator, Progress
from vision.judging import quality
from vision.judging.bind import Plan, bind
from vision.judging.check import Context
from vision.judging.confirm import confirmed, mean_of_looks, worth_another_look
from vision.judging.findings import judge_reps
from vision.judging.guess import guess_machine
from vision.judging.options import Options
from vision.measuring.machine import followed, read_machine, with_marks
from vision.measuring.phase_correction import PhaseCorrection, load_phase_correction, uncorrected
from vision.measuring.reps import find_reps
from vision.measuring.seat import on_seat
from vision.measuring.signals import compute_signals
from vision.measuring.track import build_track
from vision.seeing.follow import pick
from vision.seeing.look import Seen, look, look_again
from vision.seeing.subject import find_subject
from vision.telling.analysis import Analysis
from vision.telling.machine_report import add_machine
from vision.telling.report import build_report
from vision.telling.yardstick import finish, own_exercise, usual_range

#: Over this window a person who keeps their place drifts less than half a trunk length.
STAY_WINDOW_S = 2.0
#: Who does not keep to one place for this long in all only walked past.
LEAST_STAY_S = 1.0


def analyse(
    source: FrameSource,
    exercise: Exercise,
    pose: PoseEstimator,
    options: Options | None = None,
    progress: Progress | None = None,
    threads: int = 2,
) -> Analysis:
    """Judge one clip of one set; the result is the same with any number of threads.

    Raises
    ------
    DefinitionError : a name in the definition is unknown. ClipError : the clip cannot be read.
    UsageError : ``options.subject`` lies on nobody.
    """
    options, report = options or Options(), progress or (lambda share: None)
    bind(exercise)
    seen = look(
        source, pose, point=options.subject, marks=options.marks,
        progress=lambda share: report(0.7 * share), threads=threads,
    )  # fmt: skip

    def again() -> Landmarks:
        return look_again(
            source, pose, seen, point=options.subject,
            progress=lambda share: report(0.7 + 0.3 * share), threads=threads,
        )  # fmt: skip

    return judge_twice(seen, exercise, options, again)


def judge_twice(seen: Seen, exercise: Exercise, options: Options, again: Callable[[], Landmarks]) -> Analysis:
    """From landmarks to the report, by the mean of two looks where the first one raises anything grave.

    A flag must then show in each of the two looks as well. again: what ``look_again`` gives.
    See ``analyse`` for the errors.
    """
    first = judge_seen(seen, exercise, options)
    if seen.dense is None or not (options.thorough or worth_another_look(first.report)):
        return first
    second = again()
    alone = judge_seen(replace(seen, dense=second), exercise, options)
    both = judge_seen(replace(seen, dense=mean_of_looks(seen.dense, second)), exercise, options)
    return replace(both, report=confirmed(both.report, (first.report, alone.report)))


def judge_seen(seen: Seen, exercise: Exercise, options: Options) -> Analysis:
    """From the landmarks of one look to the report. See ``analyse`` for the errors."""
    definition = with_marks(exercise, followed(seen.marks))
    exercise = own_exercise(definition, options)
    plan = bind(exercise)
    problems = quality.clip_problems(seen.clip) + quality.picture_problems(seen.luma, seen.sharpness)
    subject = find_subject(seen.survey, seen.clip, options.subject)
    one = (
        pick(seen.dense, subject) if seen.dense is not None and subject is not None else _nobody(seen.survey)
    )
    track = build_track(one, seen.clip, exercise.limbs, options.side, options.height_cm, exercise.may_hide)
    notes = [*seen.notes, *(subject.notes if subject else ())]
    signals: dict[str, Signal] = {}
    reps, findings, guess, machine = None, [], None, None
    if track is None:
        problems.append(quality.problem("no-person"))
    else:
        signals = _signals(track, plan, exercise, options.raw)
        correct = uncorrected if options.raw else load_phase_correction(exercise.name)
        still = stays(track)
        reps = _find_set(still, signals, exercise, usual_range(exercise, options), correct)
        guess = guess_machine(track, exercise, still)
        if np.count_nonzero(still) < LEAST_STAY_S * track.rate_hz:
            problems.append(quality.problem("no-person"))
        else:
            problems += quality.subject_problems(one, track, reps, exercise)
        machine = read_machine(seen.marks, track, signals, exercise, reps, options.pivot_depth_cm)
    if track is not None and reps is not None and not problems:
        ctx = Context(track, signals, reps, exercise, machine)
        frame_at = zip(one.time_s.tolist(), one.frame.tolist(), strict=True)
        findings = judge_reps(ctx, plan, frame_at, options.cleared)
    report = build_report(seen.clip, exercise, options, track, reps, problems, findings, notes, seen.model)
    report = finish(report, definition, exercise, options, signals, reps, guess)
    if machine is not None:
        report = add_machine(report, machine, exercise, reps, options.pivot_depth_cm)
        signals = {**signals, **machine.signals}
    looks = (seen.survey,) if seen.dense is None else (seen.survey, seen.dense)
    return Analysis(seen.clip, exercise, options, looks, one, track, signals, reps, report, machine)


def _signals(track: Track, plan: Plan, exercise: Exercise, raw: bool) -> dict[str, Signal]:
    """All signals; on the seat where the thighs lie there, but for the drive, which is corrected as seen."""
    seated, drive = on_seat(track) if exercise.thighs_on_seat else track, exercise.drive.signal
    others = {name: bound for name, bound in plan.signals.items() if name != drive}
    found = compute_signals(track, {drive: plan.signals[drive]}, exercise, raw)
    found |= compute_signals(seated, others, exercise, raw)
    return {name: found[name] for name in plan.signals}


def _find_set(
    still: np.ndarray,
    signals: Mapping[str, Signal],
    exercise: Exercise,
    usual: float | None,
    correct: PhaseCorrection,
) -> RepSet | None:
    """The set by the member's usual range; by its own where hardly a repetition reaches that."""
    drive = exercise.drive
    for size in dict.fromkeys((usual, None)):
        reps = find_reps(
            signals[drive.signal], drive.lift, drive.min_range, still, size, drive.min_reps, correct
        )
        if reps is not None:
            return reps
    return None


def stays(track: Track) -> np.ndarray:
    """Whether the near side of the trunk keeps its place about each moment, (T,).

    It drifts by less than half a trunk length over two seconds; False where it is not known.
    """
    place = (track.xy(f"{track.near}_hip") + track.xy(f"{track.near}_shoulder")) / 2.0
    half = int(STAY_WINDOW_S * track.rate_hz / 2)
    rows = np.arange(len(place))
    before, after = place[np.maximum(rows - half, 0)], place[np.minimum(rows + half, len(place) - 1)]
    with np.errstate(invalid="ignore"):
        return np.asarray(distance(before, after) < 0.5 * track.trunk_px)


def _nobody(survey: Landmarks) -> Landmarks:
    def blank(values: Floats) -> Floats:
        return np.full_like(values[:, :1], np.nan)

    return Landmarks(
        survey.frame, survey.time_s, blank(survey.image_px), blank(survey.world_m),
        blank(survey.visibility), blank(survey.presence), survey.model,
    )  # fmt: skip
