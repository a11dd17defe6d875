"""Landmarks kept in a file, so that a clip can be judged again without the model."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from shared.domain import Landmarks

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
