"""frames -> landmarks, by MediaPipe's PoseLandmarker in video mode (Apache-2.0).

The only module that knows MediaPipe; it is imported when first used. Its package brings the
model's run time but no model: ``vision/models/README.md`` says where ours comes from.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from shared.domain import Floats, Frame, Landmarks
from shared.errors import InternalError, UsageError
from shared.keypoints import KEYPOINTS
from vision.seams import Box

_MODELS = Path(__file__).parent / "models"
DEFAULT_MODEL = _MODELS / "pose_landmarker_heavy.task"
#: Finds the people in whole pictures: a third of the time, and the place of a person is all that counts.
SURVEY_MODEL = _MODELS / "pose_landmarker_full.task"


class MediaPipePose:
    """A PoseEstimator over one model bundle; each ``detect`` opens and closes a landmarker.

    A look at whole pictures, without a box, only finds people: the lighter bundle does that.
    """

    def __init__(self, model: Path | None = None):
        self.model = model or DEFAULT_MODEL
        if not self.model.is_file():
            raise UsageError(f"There is no landmark model at {self.model.name}; check --model.")
        self.name = self.model.stem

    def detect(self, frames: Iterable[Frame], people: int, box: Box | None = None) -> Landmarks:
        """See ``vision.seams.PoseEstimator``; InternalError when the model cannot be run."""
        rows = _Rows(people)
        model = self.model if box is not None else SURVEY_MODEL
        with _landmarker(model, people) as (landmarker, mediapipe):
            last_ms = -1
            for frame in frames:
                last_ms = max(last_ms + 1, round(frame.time_s * 1000))
                part, left, top = _crop(frame.image, box)
                picture = mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=part)
                with _quiet():
                    found = landmarker.detect_for_video(picture, last_ms)
                rows.add(frame, found, (part.shape[1], part.shape[0]), (left, top))
        return rows.landmarks(self.name)


def _crop(image: Any, box: Box | None) -> tuple[Any, int, int]:
    if box is None:
        return np.ascontiguousarray(image), 0, 0
    left, top, right, bottom = box
    return np.ascontiguousarray(image[top:bottom, left:right]), left, top


class _Rows:
    """Collects one row a frame; people not found stay NaN."""

    def __init__(self, people: int):
        self.people = people
        self.frame: list[int] = []
        self.time_s: list[float] = []
        self.rows: list[Floats] = []

    def add(self, frame: Frame, found: Any, size: tuple[int, int], corner: tuple[int, int]) -> None:
        """Image and world landmarks of one frame: (P, 33, 8) of x y z, X Y Z, visibility, presence."""
        row = np.full((self.people, len(KEYPOINTS), 8), np.nan)
        pairs = zip(found.pose_landmarks, found.pose_world_landmarks, strict=True)
        for slot, (image, world) in enumerate(pairs):
            row[slot] = [
                (a.x, a.y, a.z, b.x, b.y, b.z, a.visibility, a.presence)
                for a, b in zip(image, world, strict=True)
            ]
        row[..., 0] = row[..., 0] * size[0] + corner[0]
        row[..., 1] = row[..., 1] * size[1] + corner[1]
        row[..., 2] *= size[0]
        self.frame.append(frame.index)
        self.time_s.append(frame.time_s)
        self.rows.append(row)

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
def _landmarker(model: Path, people: int) -> Iterator[tuple[Any, Any]]:
    """A PoseLandmarker in video mode; the native start-up chatter is kept off the terminal."""
    import mediapipe
    from mediapipe.tasks.python import BaseOptions, vision

    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(model)),
        running_mode=vision.RunningMode.VIDEO,
        num_poses=people,
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


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Send what native code writes to stderr nowhere, unless PLUMBSET_DEBUG is set."""
    if os.environ.get("PLUMBSET_DEBUG"):
        yield
        return
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
