"""Look at a rendered clip once; judge it as often as the code changes, without its pictures.

A look is kept in a folder of its own with its key (``look_key``): two landmark files or three, the
limbs' flow, how the camera moved if it did, and the facts, which are written last.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import asdict
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sample_clips.look_key import look_key
from shared.domain import Clip, Floats, Landmarks
from vision.seeing.camera import CameraPath
from vision.seeing.clip import open_clip
from vision.seeing.flow import LimbFlow
from vision.seeing.look import Seen, look, look_again
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.seeing.subject import find_subject

_FACTS, _FLOW, _CAMERA = "seen.json", "flow.npz", "camera.npz"
#: Landmarks are kept to this: px and, for the depth that nothing reads, a coarser px; m; shares. The model's
#: own noise is tens of times as large.
_STEPS: dict[str, Floats] = {
    "image_px": np.array([1 / 32, 1 / 32, 1 / 8]),
    "world_m": np.array(1 / 2048),
    "visibility": np.array(1 / 256),
    "presence": np.array(1 / 256),
}
_MOST, _MISSING = 32767, -32768


def seen_cached(clip: Path, pose: MediaPipePose, folder: Path) -> Seen:
    """What looking at a clip gave; looks at it where ``folder`` has nothing that fits."""
    if why_stale(clip, pose, folder):
        seen = look(open_clip(clip), pose, limbs=True)
        save_seen(seen, look_key(clip, pose), _place(clip, pose, folder))
    return recorded(clip, pose, folder)


def seen_again_cached(clip: Path, pose: MediaPipePose, folder: Path, seen: Seen) -> Landmarks:
    """What looking again gave, kept beside what ``seen_cached`` keeps."""
    again = _place(clip, pose, folder) / "again.npz"
    if not again.exists():
        save_landmarks(look_again(open_clip(clip), pose, seen), again)
    return recorded_again(clip, pose, folder)


def why_stale(clip: Path, pose: MediaPipePose, folder: Path) -> str:
    """Why what is kept of a clip does not fit it, in a sentence; empty where it does."""
    facts = _place(clip, pose, folder) / _FACTS
    if not facts.exists():
        return f"No look at {clip.name} has been recorded."
    kept = json.loads(facts.read_text(encoding="utf-8"))["key"]
    changed = [what for what, digest in look_key(clip, pose).items() if kept.get(what) != digest]
    return f"The recorded look at {clip.name} no longer fits {' and '.join(changed)}." if changed else ""


def recorded(clip: Path, pose: MediaPipePose, folder: Path) -> Seen:
    """The look that is kept; whether it fits is asked of ``why_stale``."""
    place = _place(clip, pose, folder)
    facts = json.loads((place / _FACTS).read_text(encoding="utf-8"))
    clip_facts, survey, dense = (
        Clip(**facts["clip"]),
        load_landmarks(place / "survey.npz"),
        place / "dense.npz",
    )
    return Seen(
        clip=clip_facts,
        luma=facts["luma"],
        sharpness=facts["sharpness"],
        survey=survey,
        subject=find_subject(survey, clip_facts),
        dense=load_landmarks(dense) if dense.exists() else None,
        model=facts["model"],
        notes=tuple(facts["notes"]),
        flow=_load_flow(place / _FLOW) if (place / _FLOW).exists() else None,
        camera=_load_camera(place / _CAMERA) if (place / _CAMERA).exists() else None,
    )


def recorded_again(clip: Path, pose: MediaPipePose, folder: Path) -> Landmarks:
    """The look in mirrored pictures that is kept."""
    return load_landmarks(_place(clip, pose, folder) / "again.npz")


def _place(clip: Path, pose: MediaPipePose, folder: Path) -> Path:
    return folder / pose.name / clip.stem


def save_seen(seen: Seen, key: dict[str, str], place: Path) -> None:
    """Write a look in place of what was kept there."""
    shutil.rmtree(place, ignore_errors=True)
    place.mkdir(parents=True)
    save_landmarks(seen.survey, place / "survey.npz")
    if seen.dense is not None:
        save_landmarks(seen.dense, place / "dense.npz")
    if seen.flow is not None:
        save_flow(seen.flow, place / _FLOW)
    if seen.camera is not None:
        save_camera(seen.camera, place / _CAMERA)
    facts = {"key": key, "clip": asdict(seen.clip), "luma": seen.luma, "sharpness": seen.sharpness}
    facts |= {"model": seen.model, "notes": seen.notes}
    (place / _FACTS).write_text(json.dumps(facts, indent=1) + "\n", encoding="utf-8")


def save_landmarks(landmarks: Landmarks, path: Path) -> None:
    """Write landmarks as steps from frame to frame: small, and near enough (``_STEPS``)."""
    arrays = {"frame": landmarks.frame, "time_s": landmarks.time_s, "model": np.array(landmarks.model)}
    for name, step in _STEPS.items():
        codes, used = _coded(getattr(landmarks, name), step)
        arrays |= {name: np.diff(codes, axis=0, prepend=np.int16(0)), f"{name}_step": used}
    part = path.with_suffix(".part.npz")
    np.savez_compressed(part, allow_pickle=False, **arrays)
    part.replace(path)


def load_landmarks(path: Path) -> Landmarks:
    """Read back what ``save_landmarks`` wrote."""
    with np.load(path, allow_pickle=False) as data:
        arrays = {name: _decoded(data[name], data[f"{name}_step"]) for name in _STEPS}
        return Landmarks(frame=data["frame"], time_s=data["time_s"], model=str(data["model"]), **arrays)


def save_flow(flow: LimbFlow, path: Path) -> None:
    """Write the limbs' steps, to a thousandth of themselves."""
    np.savez_compressed(
        path, time_s=flow.time_s, moved_px=flow.moved_px.astype(np.float16), allow_pickle=False
    )


def save_camera(camera: CameraPath, path: Path) -> None:
    """Write how the camera moved."""
    np.savez_compressed(path, time_s=camera.time_s, to_still=camera.to_still, allow_pickle=False)


def _load_camera(path: Path) -> CameraPath:
    with np.load(path, allow_pickle=False) as data:
        return CameraPath(data["time_s"], data["to_still"])


def _load_flow(path: Path) -> LimbFlow:
    with np.load(path, allow_pickle=False) as data:
        return LimbFlow(data["time_s"], data["moved_px"].astype(np.float64))


def _coded(values: Floats, step: Floats) -> tuple[NDArray[np.int16], Floats]:
    """Whole steps in 16 bits, and the step: larger than asked where values are too large for it."""
    used = np.maximum(step, np.nanmax(np.abs(values), initial=0.0) / _MOST)
    return np.nan_to_num(np.round(values / used), nan=_MISSING).astype(np.int16), used


def _decoded(changes: NDArray[np.int16], step: Floats) -> Floats:
    codes = np.cumsum(changes, axis=0, dtype=np.int16)
    return np.where(codes == _MISSING, np.nan, codes * step)
