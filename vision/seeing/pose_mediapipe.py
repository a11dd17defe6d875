"""frames -> landmarks, by MediaPipe's PoseLandmarker (Apache-2.0).

The only module that knows MediaPipe; it is imported when first used. Its package brings the
model's run time but no model: ``vision/models/README.md`` says where ours comes from.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import cv2
import numpy as np

from shared.domain import Floats, Frame, Image, Landmarks
from shared.errors import InternalError, UsageError
from shared.keypoints import KEYPOINTS, MIRRORED
from vision.common.poses import off_bones, pose_distance, torso
from vision.common.seams import Box
from vision.seeing.paint import painted_out

#: What the package loads to draw and to record sound, neither of which is used: most of its start.
_UNUSED = ("matplotlib", "matplotlib.pyplot", "sounddevice")
_IMPORTING = threading.Lock()
_MODELS = Path(__file__).parents[1] / "models"
DEFAULT_MODEL = _MODELS / "pose_landmarker_heavy.task"
#: Finds the people in whole pictures: a third of the time, and the place of a person is all that counts.
SURVEY_MODEL = _MODELS / "pose_landmarker_full.task"
#: The model looks at 256 pixels a side about the person; more in the picture only costs time.
ENOUGH_PX = 860
#: How often others are looked for while one person alone is seen, in s.
OTHERS_STEP_S = 0.8
SLACK_S = 0.05
#: Half of the points of somebody who keeps still move less than this from look to look, in trunk lengths.
STILL_TRUNKS = 0.05
#: A pose whose points lie this near to the bones of somebody painted over, in trunk lengths (median and
#: ninth decile), is a ghost that the model makes of what is left of them. On rendered clips of the tuning
#: part ghosts kept within 0.22 and 0.51; a standing trainer's head alone lies further off (0.61 and more).
GHOST_TRUNKS = (0.25, 0.55)


class MediaPipePose:
    """A PoseEstimator over one model bundle and a lighter one that only finds people."""

    def __init__(self, model: Path | None = None):
        self.model = model or DEFAULT_MODEL
        if not self.model.is_file():
            raise UsageError(f"There is no landmark model at {self.model.name}; check --model.")
        self.name = self.model.stem

    def survey(self, frames: Iterable[Frame], people: int) -> Landmarks:
        """See ``vision.common.seams.PoseEstimator``; InternalError when the model cannot be run.

        One person at a time: who was found is painted over before the next look, since of two people
        who overlap the model sees one. Each look keeps to whom it found before. While one person alone
        is seen, others are looked for now and then only, and who keeps still in every other frame.
        """
        rows, last_ms, others_due_s, left_out = _Rows(people), -1, -np.inf, False
        with contextlib.ExitStack() as open_:
            looks = _Looks(open_)
            for frame in frames:
                alone = frame.time_s < others_due_s - SLACK_S
                left_out = alone and not left_out and rows.still()
                if left_out:
                    continue
                last_ms = max(last_ms + 1, round(frame.time_s * 1000))
                image, scale = _small(frame.image)
                found = looks.people(image, last_ms, 1 if alone else people)
                if not alone:
                    others_due_s = frame.time_s + (OTHERS_STEP_S if len(found) < 2 else 0.0)
                for pose in found:
                    pose[:, :3] /= scale
                rows.add(frame, found)
        return rows.landmarks(self.name)

    def follow(self, frames: Iterable[Frame], box: Box, mirrored: bool = False) -> Landmarks:
        """See ``vision.common.seams.PoseEstimator``; InternalError when the model cannot be run."""
        rows, last_ms = _Rows(1), -1
        left, top, right, bottom = box
        look = _look_mirrored if mirrored else _look
        with _landmarker(self.model) as (landmarker, mediapipe):
            for frame in frames:
                last_ms = max(last_ms + 1, round(frame.time_s * 1000))
                part, scale = _small(frame.image[top:bottom, left:right])
                poses = look(landmarker, mediapipe, part, last_ms)
                for pose in poses:
                    pose[:, :3] /= scale
                    pose[:, :2] += left, top
                rows.add(frame, poses)
        return rows.landmarks(self.name)


def _small(image: Image) -> tuple[Image, float]:
    """The picture halved, or thirded, where it is larger than the model has use for, and its scale."""
    step = max(image.shape[:2]) // ENOUGH_PX
    if step < 2:
        return np.ascontiguousarray(image), 1.0
    scale = 1.0 / step
    return np.asarray(cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)), scale


class _Looks:
    """One landmarker for each of several people, started when first needed."""

    def __init__(self, open_: contextlib.ExitStack):
        self._open = open_
        self._started: list[tuple[Any, Any]] = []

    def people(self, image: Image, at_ms: int, most: int) -> list[Floats]:
        """Poses (33, 8) of up to ``most`` people, each found with those before painted over."""
        found: list[Floats] = []
        for i in range(most):
            if i == len(self._started):
                self._started.append(self._open.enter_context(_landmarker(SURVEY_MODEL)))
            poses = _look(*self._started[i], image, at_ms)
            if not poses or _is_ghost(poses[0], found):
                break
            found += poses
            image = painted_out(image, [pose[:, :2] for pose in poses])
        return found


def _is_ghost(pose: Floats, found: list[Floats]) -> bool:
    """Whether a pose was made of what is left of somebody painted over: head on head, or bone on bone."""
    middle = pose[:11, :2].mean(axis=0)
    size = max(float(np.ptp(pose[:, 1])), 1.0)
    for one in found:
        if np.linalg.norm(one[:11, :2].mean(axis=0) - middle) < 0.15 * size:
            return True
        off = off_bones(pose[:, :2], one[:, :2])
        if np.median(off) < GHOST_TRUNKS[0] and np.percentile(off, 90) < GHOST_TRUNKS[1]:
            return True
    return False


def _look(landmarker: Any, mediapipe: Any, image: Any, at_ms: int) -> list[Floats]:
    """(33, 8) of x y z, X Y Z, visibility, presence of the one person found, pixels; or nothing."""
    picture = mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=image)
    with contextlib.nullcontext() if _CHATTER.over else _quiet():
        found = landmarker.detect_for_video(picture, at_ms)
        _CHATTER.over = _CHATTER.over or bool(found.pose_landmarks)
    height, width = image.shape[:2]
    out = []
    for flat, world in zip(found.pose_landmarks, found.pose_world_landmarks, strict=True):
        points = zip(flat, world, strict=True)
        pose = np.array([(a.x, a.y, a.z, b.x, b.y, b.z, a.visibility, a.presence) for a, b in points])
        pose[:, :3] *= width, height, width
        out.append(pose)
    return out


def _look_mirrored(landmarker: Any, mediapipe: Any, image: Image, at_ms: int) -> list[Floats]:
    """What ``_look`` finds in the mirror image, mirrored back."""
    found = _look(landmarker, mediapipe, np.ascontiguousarray(image[:, ::-1]), at_ms)
    back = [pose[list(MIRRORED)] for pose in found]
    for pose in back:
        pose[:, 0] = image.shape[1] - 1 - pose[:, 0]
        pose[:, 3] *= -1
    return back


class _Rows:
    """Collects one row a frame; people not found stay NaN."""

    def __init__(self, people: int):
        self.people = people
        self.frame: list[int] = []
        self.time_s: list[float] = []
        self.rows: list[Floats] = []

    def add(self, frame: Frame, poses: list[Floats]) -> None:
        """Poses (33, 8) of one frame."""
        row = np.full((self.people, len(KEYPOINTS), 8), np.nan)
        for slot, pose in enumerate(poses):
            row[slot] = pose
        self.frame.append(frame.index)
        self.time_s.append(frame.time_s)
        self.rows.append(row)

    def still(self) -> bool:
        """Whether the first person was found at the same place in the last two rows."""
        if len(self.rows) < 2:
            return False
        before, now = self.rows[-2][0], self.rows[-1][0]
        return bool(pose_distance(before[:, :2], now[:, :2]) < STILL_TRUNKS * torso(now)[1])

    def landmarks(self, model: str) -> Landmarks:
        """All rows as one Landmarks."""
        shape = (0, self.people, len(KEYPOINTS), 8)
        rows = np.stack(self.rows) if self.rows else np.empty(shape)
        return Landmarks(
            frame=np.asarray(self.frame, dtype=np.int64),
            time_s=np.asarray(self.time_s, dtype=float),
            image_px=rows[..., 0:3],
            world_m=rows[..., 3:6],
            visibility=rows[..., 6],
            presence=rows[..., 7],
            model=model,
        )


@contextlib.contextmanager
def _without(modules: Iterable[str]) -> Iterator[None]:
    """Empty modules in place of those not imported yet, so that importing does not pull them in."""
    absent = [name for name in modules if name not in sys.modules]
    sys.modules.update({name: ModuleType(name) for name in absent})
    try:
        yield
    finally:
        for name in absent:
            del sys.modules[name]


@contextlib.contextmanager
def _landmarker(model: Path) -> Iterator[tuple[Any, Any]]:
    """A PoseLandmarker in video mode for one person; the native start-up chatter is kept off the terminal."""
    with _IMPORTING, _without(_UNUSED):
        import mediapipe
        from mediapipe.tasks.python import BaseOptions, vision

    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(model)),
        running_mode=vision.RunningMode.VIDEO,
    )
    try:
        with _quiet():
            landmarker = vision.PoseLandmarker.create_from_options(options)
    except (RuntimeError, ValueError) as error:
        raise InternalError(
            f"The landmark model {model.name} could not be started; it may be damaged or of another kind."
        ) from error
    try:
        yield landmarker, mediapipe
    finally:
        with _quiet():
            landmarker.close()


class _Chatter:
    """What native code writes to stderr: at every start and stop, and once when it first finds someone."""

    over = False
    lock = threading.Lock()


_CHATTER = _Chatter()


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Send what native code writes to stderr nowhere, unless PLUMBSET_DEBUG is set; one thread at a time."""
    if os.environ.get("PLUMBSET_DEBUG"):
        yield
        return
    with _CHATTER.lock:
        sys.stderr.flush()
        kept = os.dup(2)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        try:
            yield
        finally:
            sys.stderr.flush()
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)
