"""frames -> landmarks: the people in a clip found, and one of them followed with all care."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from shared.domain import Floats, Frame, Image, Landmarks
from shared.errors import UsageError
from shared.keypoints import KEYPOINTS
from vision.common.poses import off_bones, pose_distance, sits, torso
from vision.common.seams import Box, Found
from vision.seeing.landmarker import Landmarker, is_upside_down
from vision.seeing.paint import painted_out

_MODELS = Path(__file__).parents[1] / "models"
DEFAULT_MODEL = _MODELS / "pose_landmarker_heavy.task"
#: Finds the people in whole pictures: a third of the time, and the place of a person is all that counts.
SURVEY_MODEL = _MODELS / "pose_landmarker_full.task"
#: The model looks at 256 pixels a side about the person; more in the picture only costs time.
ENOUGH_PX = 860
#: What lies about the part that is looked at.
GREY = 128
#: How often others are looked for while one person alone is seen, in s.
OTHERS_STEP_S = 0.8
SLACK_S = 0.05
#: Half of the points of somebody who keeps still move less than this from look to look, in trunk lengths.
STILL_TRUNKS = 0.05
#: A pose whose points lie this near to the bones of somebody painted over, in trunk lengths (median and
#: ninth decile), is a ghost that the model makes of what is left of them. On rendered clips of the tuning
#: part ghosts kept within 0.22 and 0.51; a standing trainer's head alone lies further off (0.61 and more).
GHOST_TRUNKS = (0.25, 0.55)
#: Whoever may be hidden by a ghost is looked for so often: starting a model takes as long as several looks.
GHOST_STEP_MS = 4000


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

    def follow(
        self, frames: Iterable[Frame], box: Box, mirrored: bool = False, found: Found | None = None
    ) -> Landmarks:
        """See ``vision.common.seams.PoseEstimator``; InternalError when the model cannot be run.

        Where nobody is found in the part of the picture, or a body on its head, the part is looked at smaller
        from then on, and larger again after that: the model finds people by their size in what it is shown.
        """
        rows, last_ms, smaller = _Rows(1), -1, False
        with contextlib.ExitStack() as open_:
            model = Landmarker(open_, self.model)
            for frame in frames:
                last_ms = max(last_ms + 1, round(frame.time_s * 1000))
                look = partial(_look_within, model, frame, box, at_ms=last_ms, mirrored=mirrored)
                poses = look(smaller)
                if not poses:
                    smaller = not smaller
                elif is_upside_down(poses[0]) and model.start_anew(last_ms):
                    smaller = not smaller
                    poses = look(smaller)
                rows.add(frame, poses)
                if found is not None:
                    found(frame, poses[0][:, :2] if poses else None)
        return rows.landmarks(self.name)


def _look_within(
    model: Landmarker, frame: Frame, box: Box, smaller: bool, *, at_ms: int, mirrored: bool
) -> list[Floats]:
    """Who is found in a part of the picture, in pixels of the picture.

    smaller: in a grey picture of the whole one's size, where the part lies.
    """
    left, top, right, bottom = box
    part, corner = frame.image[top:bottom, left:right], (left, top)
    if smaller:
        part, corner = np.full_like(frame.image, GREY), (0, 0)
        part[top:bottom, left:right] = frame.image[top:bottom, left:right]
    part, scale = _small(part)
    poses = model.look(part, at_ms, mirrored)
    for pose in poses:
        pose[:, :3] /= scale
        pose[:, :2] += corner
    return poses


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
        self._started: list[Landmarker] = []

    def people(self, image: Image, at_ms: int, most: int) -> list[Floats]:
        """Poses (33, 8) of up to ``most`` people, each found with those before painted over."""
        found: list[Floats] = []
        for i in range(most):
            if i == len(self._started):
                self._started.append(Landmarker(self._open, SURVEY_MODEL))
            poses = self._started[i].look(image, at_ms)
            if poses and _is_ghost(poses[0], found) and not any(sits(pose) for pose in found):
                # Where it was found it would be looked for ever after, and whoever sits there never seen.
                image = painted_out(image, [poses[0][:, :2]])
                anew = self._started[i].start_anew(at_ms, GHOST_STEP_MS)
                poses = self._started[i].look(image, at_ms) if anew else []
            elif poses and is_upside_down(poses[0]) and self._started[i].start_anew(at_ms):
                poses = self._started[i].look(image, at_ms)
            if not poses or _is_ghost(poses[0], found):
                break
            found += poses
            image = painted_out(image, [pose[:, :2] for pose in poses])
        return found


def _is_ghost(pose: Floats, found: list[Floats]) -> bool:
    """Whether a pose was made of what is left of somebody painted over: head on head, bone on bone, or a
    body on its head in somebody's legs.
    """
    if found and is_upside_down(pose):
        return True
    middle = pose[:11, :2].mean(axis=0)
    size = max(float(np.ptp(pose[:, 1])), 1.0)
    for one in found:
        if np.linalg.norm(one[:11, :2].mean(axis=0) - middle) < 0.15 * size:
            return True
        off = off_bones(pose[:, :2], one[:, :2])
        if np.median(off) < GHOST_TRUNKS[0] and np.percentile(off, 90) < GHOST_TRUNKS[1]:
            return True
    return False


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
