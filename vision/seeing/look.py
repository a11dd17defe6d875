"""clip -> frames -> landmarks: who is in the picture, then a close look at one of them.

The landmark model keeps one core busy, so both halves of a clip are looked at side by side. A clip
is halved in the same way whether they are or not: what is seen never depends on the machine.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, fields, replace

import numpy as np

from shared.domain import Clip, Frame, Landmarks
from shared.errors import UsageError
from vision.common.seams import FrameSource, LimbSource, PoseEstimator, Progress
from vision.seeing import light
from vision.seeing.camera import CameraPath
from vision.seeing.camera_tracker import CameraMeter, SteadyStream
from vision.seeing.flow import LimbFlow
from vision.seeing.follow import pick, without_others
from vision.seeing.gray import STEP_S
from vision.seeing.limb_flow import LimbMeter
from vision.seeing.marks import MarkPoint, Marks
from vision.seeing.subject import SURVEY_PEOPLE, SURVEY_STEP_S, Subject, SubjectPoint, find_subject

#: Landmarks are taken about this often, in s; those of a second look midway between two of the first. On
#: rendered sets looks twice as often were no better: the limbs' optical flow tells the moments.
LANDMARK_STEP_S = 0.2
#: Shorter clips are not halved.
SHORT_S = 10.0
#: The second half is begun this much early, so that the model has found the person when it counts.
WARM_UP_S = 1.0


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What looking at a clip gave: all that judging needs, without its pictures.

    survey: everyone, at a few frames a second; subject: the one to judge; dense: the subject's part of the
    picture, looked at closely, None when nobody was found. luma and sharpness: see
    ``vision.seeing.light.PictureMeter``; NaN when the clip gave no picture. marks: points of the machine
    that a person marked, followed. flow: how the subject's limbs moved from picture to picture, if that
    was looked at. camera: how the camera moved, None where it stood or the room did not tell.
    """

    clip: Clip
    luma: float
    sharpness: float
    survey: Landmarks
    subject: Subject | None
    dense: Landmarks | None
    model: str
    notes: tuple[str, ...] = ()
    marks: Marks = field(default_factory=dict)
    flow: LimbFlow | None = None
    camera: CameraPath | None = None


def look(
    source: LimbSource,
    pose: PoseEstimator,
    *,
    point: SubjectPoint | None = None,
    marks: Sequence[MarkPoint] = (),
    limbs: bool = False,
    progress: Progress | None = None,
    threads: int = 2,
) -> Seen:
    """A survey of everyone, then a close look at the subject: who is at ``point``, or who trains.

    limbs: how they move from picture to picture as well. Raises ClipError and UsageError as ``analyse`` does.
    """
    report = progress or (lambda share: None)
    seen = survey_clip(source, pose, point, progress=lambda share: report(0.25 * share), threads=threads)
    return look_closely(
        source, pose, seen, marks=marks, limbs=limbs, progress=lambda share: report(0.25 + 0.75 * share),
        threads=threads,
    )  # fmt: skip


def survey_clip(
    source: FrameSource,
    pose: PoseEstimator,
    point: SubjectPoint | None = None,
    progress: Progress | None = None,
    threads: int = 2,
) -> Seen:
    """Everyone a few times a second, and whom to judge; nobody is looked at closely. Raises as ``look``."""
    clip, meter = source.clip, light.PictureMeter.for_clip(source.clip)
    survey = _in_halves(
        lambda frames: pose.survey(meter.tap(frames), SURVEY_PEOPLE),
        clip, lambda start_s, end_s: source.frames(start_s, end_s, SURVEY_STEP_S),
        progress or (lambda share: None), threads,
    )  # fmt: skip
    subject = find_subject(survey, clip, point)
    luma, sharp = meter.measure(subject.box if subject else (0, 0, clip.width, clip.height))
    return Seen(
        clip=clip, luma=luma, sharpness=sharp, survey=survey, subject=subject, dense=None, model=pose.name,
        notes=tuple(getattr(source, "notes", ())),
    )  # fmt: skip


def look_closely(
    source: LimbSource,
    pose: PoseEstimator,
    seen: Seen,
    *,
    marks: Sequence[MarkPoint] = (),
    limbs: bool = False,
    progress: Progress | None = None,
    threads: int = 2,
) -> Seen:
    """A surveyed clip with the subject looked at closely, and with the marks followed. See ``look``."""
    report, step_s = progress or (lambda share: None), landmark_step_s(source.clip)
    if seen.subject is not None:
        end, subject = 2 / 3 if marks else 0.96, seen.subject
        camera, limb = CameraMeter(source, subject), LimbMeter(source.clip, subject) if limbs else None

        def read(start_s: float, end_s: float | None) -> Iterator[Frame]:
            if limbs:
                return source.with_gray(start_s, end_s, step_s, STEP_S)
            return source.frames(start_s, end_s, step_s)

        dense = _in_halves(
            lambda frames: _followed(frames, pose, subject, camera.stream(), limbs=limb),
            source.clip, read, lambda share: report(end * share), threads,
        )  # fmt: skip
        path = camera.path()
        flow = None if limb is None else limb.flow(pick(dense, subject), held=path is not None)
        seen = replace(seen, dense=dense, camera=path, flow=flow)
    paths = _follow_marks(source, marks, lambda share: report(2 / 3 + 0.3 * share))
    return replace(seen, marks=paths, notes=tuple(getattr(source, "notes", ())))


def look_again(
    source: FrameSource,
    pose: PoseEstimator,
    seen: Seen,
    progress: Progress | None = None,
    threads: int = 2,
) -> Landmarks:
    """The subject once more, in mirrored pictures midway between the first; as it lies in the clip's own.

    Raises ClipError as ``look`` does; UsageError when nobody was seen.
    """
    if seen.subject is None:
        raise UsageError("Nobody was seen who could be looked at again.")
    subject, step_s = seen.subject, landmark_step_s(source.clip)
    camera = None if seen.camera is None else CameraMeter(source, subject)

    def followed(frames: Iterator[Frame]) -> Landmarks:
        steady = SteadyStream.as_it_is(source.clip) if camera is None else camera.stream()
        return _followed(frames, pose, subject, steady, mirrored=True)

    return _in_halves(
        followed, source.clip, lambda start_s, end_s: source.frames(start_s, end_s, step_s),
        progress or (lambda share: None), threads, from_s=step_s / 2,
    )  # fmt: skip


def _followed(
    frames: Iterator[Frame],
    pose: PoseEstimator,
    subject: Subject,
    steady: SteadyStream,
    mirrored: bool = False,
    limbs: LimbMeter | None = None,
) -> Landmarks:
    """A close look at the subject in one stream of frames."""
    found = None
    if limbs is not None:
        walk = limbs.walk()
        frames, found = walk.looks(frames), steady.telling(walk.found)
    shown = steady.steadied(without_others(frames, subject))
    return steady.put_back(pose.follow(shown, subject.box, mirrored, found))


def landmark_step_s(clip: Clip) -> float:
    """Least time in s between two looks: half a frame less than the whole frames that make a step."""
    return (max(1, round(LANDMARK_STEP_S * clip.fps_mean)) - 0.5) / clip.fps_mean


def _follow_marks(source: FrameSource, marks: Sequence[MarkPoint], progress: Progress) -> Marks:
    if not marks:
        return {}
    from vision.seeing.mark_tracker import track_marks

    return track_marks(source, marks, progress)


def _in_halves(
    work: Callable[[Iterator[Frame]], Landmarks],
    clip: Clip,
    read: Callable[[float, float | None], Iterator[Frame]],
    report: Progress,
    threads: int,
    from_s: float = 0.0,
) -> Landmarks:
    """What ``work`` makes of a clip's frames, half by half; progress is told from the calling thread.

    read: gives the frames from one moment (s) to another, or to the end.
    """
    stop = threading.Event()
    if clip.duration_s < SHORT_S:
        return work(_told(read(from_s, None), clip.duration_s, report))
    middle = clip.duration_s / 2
    early = read(from_s, middle)
    late = _until(stop, read(middle - WARM_UP_S + from_s, None))
    if threads < 2:
        first = work(_told(early, clip.duration_s, report))
        return joined(first, work(_told(late, clip.duration_s, report)))
    with ThreadPoolExecutor(1) as beside:
        second = beside.submit(work, late)
        try:
            return joined(work(_told(early, middle, report)), second.result())
        finally:
            stop.set()


def _told(frames: Iterator[Frame], seconds: float, report: Progress) -> Iterator[Frame]:
    for frame in frames:
        report(min(1.0, frame.time_s / max(seconds, 1e-6)))
        yield frame


def _until(stop: threading.Event, frames: Iterator[Frame]) -> Iterator[Frame]:
    for frame in frames:
        if stop.is_set():
            return
        yield frame


def joined(first: Landmarks, second: Landmarks) -> Landmarks:
    """Two looks at a clip as one: of the second one what comes after the first."""
    late = second.time_s > (first.time_s[-1] if len(first.time_s) else -np.inf)

    def both(name: str) -> np.ndarray:
        return np.concatenate([getattr(first, name), getattr(second, name)[late]])

    arrays = {f.name: both(f.name) for f in fields(Landmarks) if f.name != "model"}
    return Landmarks(model=first.model, **arrays)
