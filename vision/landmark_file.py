"""Landmarks kept in a file, and a PoseEstimator that replays them: tests and tuning need no model."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import numpy as np

from shared.domain import Frame, Landmarks
from vision.seams import Box

_ARRAYS = ("frame", "time_s", "image_px", "world_m", "visibility", "presence")


def save_landmarks(landmarks: Landmarks, path: Path) -> None:
    """Write landmarks as compressed npz, values in single precision, times in double."""
    arrays = {name: getattr(landmarks, name) for name in _ARRAYS}
    small = {k: v if k in ("frame", "time_s") else v.astype(np.float32) for k, v in arrays.items()}
    np.savez_compressed(path, model=np.array(landmarks.model), **small)


def load_landmarks(path: Path) -> Landmarks:
    """Read back what ``save_landmarks`` wrote."""
    with np.load(path, allow_pickle=False) as data:
        arrays = {k: data[k] if k == "frame" else data[k].astype(float) for k in _ARRAYS}
        return Landmarks(**arrays, model=str(data["model"]))


class RecordedPose:
    """A PoseEstimator that answers from recordings, one for each number of people asked for."""

    def __init__(self, *recordings: Landmarks):
        self.recordings = {r.people: r for r in recordings}
        self.name = recordings[0].model

    def detect(self, frames: Iterable[Frame], people: int, box: Box | None = None) -> Landmarks:
        """The recorded rows of the frames asked for; KeyError for another number of people."""
        recording = self.recordings[people]
        rows = np.searchsorted(recording.frame, [f.index for f in frames])
        return take(recording, np.asarray(rows, dtype=np.int64))


def take(landmarks: Landmarks, rows: np.ndarray) -> Landmarks:
    """The given rows of landmarks, in the given order."""
    return Landmarks(**{k: getattr(landmarks, k)[rows] for k in _ARRAYS}, model=landmarks.model)
