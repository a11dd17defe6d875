"""Look at a rendered clip once; judge it as often as the code changes, without its pictures."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict
from functools import cache
from pathlib import Path

import numpy as np

from shared.domain import Clip, Landmarks
from vision.common import poses
from vision.common.seams import PoseEstimator
from vision.seeing import clip as clips
from vision.seeing import follow, paint, pose_mediapipe, subject
from vision.seeing import look as looking
from vision.seeing.clip import open_clip
from vision.seeing.look import LANDMARK_STEP_S, Seen, look, look_again
from vision.seeing.subject import find_subject

_ARRAYS = ("frame", "time_s", "image_px", "world_m", "visibility", "presence")


def seen_cached(clip: Path, pose: PoseEstimator, folder: Path) -> Seen:
    """What looking at a clip gave, kept in ``folder`` by the clip's bytes, the model and the looking code."""
    folder = _place(clip, pose, folder)
    if (folder / "seen.json").exists():
        return load_seen(folder)
    seen = look(open_clip(clip), pose)
    save_seen(seen, folder)
    return seen


def seen_again_cached(clip: Path, pose: PoseEstimator, folder: Path, seen: Seen) -> Landmarks:
    """What looking again gave, kept beside it."""
    again = _place(clip, pose, folder) / "again.npz"
    if not again.exists():
        part = again.with_suffix(".part.npz")
        save_landmarks(look_again(open_clip(clip), pose, seen), part)
        part.rename(again)
    return load_landmarks(again)


def _place(clip: Path, pose: PoseEstimator, folder: Path) -> Path:
    digest = hashlib.sha256(clip.read_bytes()).hexdigest()[:16]
    return folder / f"{digest}.{pose.name}.{LANDMARK_STEP_S}.{_looking()}"


@cache
def _looking() -> str:
    """Digest of the modules that look; what only judges may change without looking again."""
    modules = (clips, follow, looking, paint, pose_mediapipe, poses, subject)
    files = [Path(module.__file__ or "") for module in modules]
    return hashlib.sha256(b"".join(file.read_bytes() for file in files)).hexdigest()[:8]


def save_seen(seen: Seen, folder: Path) -> None:
    """Write a Seen: two landmark files, then the facts, which mark it whole."""
    folder.mkdir(parents=True, exist_ok=True)
    save_landmarks(seen.survey, folder / "survey.npz")
    if seen.dense is not None:
        save_landmarks(seen.dense, folder / "dense.npz")
    facts = {"clip": asdict(seen.clip), "luma": seen.luma, "sharpness": seen.sharpness, "model": seen.model}
    (folder / "seen.json").write_text(json.dumps(facts))


def load_seen(folder: Path) -> Seen:
    """Read back what ``save_seen`` wrote."""
    facts = json.loads((folder / "seen.json").read_text())
    clip, survey, dense = Clip(**facts["clip"]), load_landmarks(folder / "survey.npz"), folder / "dense.npz"
    return Seen(
        clip=clip, luma=facts["luma"], sharpness=facts["sharpness"], survey=survey,
        subject=find_subject(survey, clip), dense=load_landmarks(dense) if dense.exists() else None,
        model=facts["model"],
    )  # fmt: skip


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
