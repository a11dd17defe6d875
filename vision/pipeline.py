"""The whole way from a clip to a report."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from shared.domain import Clip, Floats, Frame, Landmarks, Problem, RepSet, Signal, Track
from shared.exercise import Exercise
from vision import quality
from vision.analysis import Analysis, Options
from vision.bind import Plan, bind
from vision.checks import Context
from vision.findings import judge_reps
from vision.geometry import distance
from vision.report import build_report
from vision.reps import find_reps
from vision.seams import FrameSource, PoseEstimator, Progress
from vision.signals import compute_signals
from vision.subject import (
    CROWD_PEOPLE,
    SURVEY_PEOPLE,
    SURVEY_STEP_S,
    Subject,
    find_subject,
    pick,
)
from vision.track import RATE_HZ, build_track

#: Landmarks are taken at no more than this many frames a second.
LANDMARK_STEP_S = 1.0 / (RATE_HZ + 1.0)
#: Over this window a person who keeps their place drifts less than half a trunk length.
STAY_WINDOW_S = 2.0


def analyse(
    source: FrameSource,
    exercise: Exercise,
    pose: PoseEstimator,
    options: Options | None = None,
    progress: Progress | None = None,
) -> Analysis:
    """Judge one clip of one set.

    Raises
    ------
    DefinitionError : a name in the definition is unknown. ClipError : the clip cannot be read.
    UsageError : ``options.subject`` lies on nobody.
    """
    options = options or Options()
    plan = bind(exercise)
    clip, meter = source.clip, quality.PictureMeter()
    report = progress or (lambda share: None)
    frames = _counted(source.frames(min_step_s=SURVEY_STEP_S), clip, report, 0.0, 0.2)
    survey = pose.detect(meter.tap(frames), SURVEY_PEOPLE)
    subject = find_subject(survey, clip, options.subject)
    if subject is None:
        box = (0, 0, clip.width, clip.height)
        problems = quality.picture_problems(meter, box) if meter.thumbs else []
        return _unfit(clip, exercise, options, survey, [*problems, quality.problem("no-person")], pose.name)
    people = CROWD_PEOPLE if subject.crowded else 1
    dense_frames = _counted(source.frames(min_step_s=LANDMARK_STEP_S), clip, report, 0.2, 0.97)
    dense = pose.detect(dense_frames, people, subject.box)
    return _judge(clip, exercise, plan, options, meter, survey, subject, dense, pose.name)


def _counted(
    frames: Iterable[Frame], clip: Clip, report: Progress, start: float, end: float
) -> Iterator[Frame]:
    for frame in frames:
        report(start + (end - start) * min(1.0, frame.time_s / max(clip.duration_s, 1e-6)))
        yield frame


def _judge(
    clip: Clip,
    exercise: Exercise,
    plan: Plan,
    options: Options,
    meter: quality.PictureMeter,
    survey: Landmarks,
    subject: Subject,
    dense: Landmarks,
    model: str,
) -> Analysis:
    """Everything after landmarks."""
    one = pick(dense, subject)
    problems = [*quality.clip_problems(clip), *quality.picture_problems(meter, subject.box)]
    track = build_track(one, clip, exercise.limbs, options.side, options.height_cm)
    if track is None:
        return _unfit(clip, exercise, options, survey, [*problems, quality.problem("no-person")], model)
    signals = compute_signals(track, plan.signals, exercise)
    drive = signals[exercise.drive.signal]
    reps = find_reps(
        drive, exercise.drive.lift, exercise.drive.min_range, stays(track), min_reps=exercise.drive.min_reps
    )
    problems += quality.subject_problems(one, track, reps, exercise)
    findings = []
    if reps is not None and not problems:
        ctx = Context(track, signals, reps, exercise)
        frame_at = zip(one.time_s.tolist(), one.frame.tolist(), strict=True)
        findings = judge_reps(ctx, plan, frame_at, options.cleared)
    report = build_report(clip, exercise, options, track, reps, problems, findings, subject.notes, model)
    return Analysis(clip, exercise, options, _everyone(survey, dense), one, track, signals, reps, report)


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


def _everyone(survey: Landmarks, dense: Landmarks) -> Landmarks:
    """All people found, for hiding heads: the dense rows where others come near, else the survey's."""
    return dense if dense.people > 1 else survey


def _unfit(
    clip: Clip,
    exercise: Exercise,
    options: Options,
    survey: Landmarks,
    problems: list[Problem],
    model: str,
) -> Analysis:
    """An analysis that only says why the clip cannot be judged."""
    signals: dict[str, Signal] = {}
    reps: RepSet | None = None
    problems = [*quality.clip_problems(clip), *problems]
    report = build_report(clip, exercise, options, None, reps, problems, [], [], model)
    rows = np.full(len(survey.frame), -1)
    nobody = _nobody(survey, rows)
    return Analysis(clip, exercise, options, survey, nobody, None, signals, reps, report)


def _nobody(survey: Landmarks, rows: np.ndarray) -> Landmarks:
    def blank(values: Floats) -> Floats:
        return np.full_like(values[:, :1], np.nan)

    return Landmarks(
        survey.frame, survey.time_s, blank(survey.image_px), blank(survey.world_m),
        blank(survey.visibility), blank(survey.presence), survey.model,
    )  # fmt: skip
