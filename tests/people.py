"""Stick people with exact joints, as Landmarks: the synthetic input of subject and track."""

from __future__ import annotations

import numpy as np

from shared.domain import Clip, Landmarks
from shared.keypoints import INDEX, KEYPOINTS

CLIP = Clip("clip.mp4", 20.0, 600, 30.0, 720, 1280, 0)


def seated(
    knee_deg: np.ndarray,
    at: tuple[float, float] = (300.0, 640.0),
    facing: int = 1,
    trunk: float = 200.0,
    pitch_deg: float | np.ndarray = -8.0,
) -> np.ndarray:
    """Side view of a seated person, (T, 33, 3) px: hip at ``at``, thigh level, knee and trunk as given."""
    t = len(knee_deg)
    points = np.zeros((t, len(KEYPOINTS), 3))
    hip = np.array(at)
    lean = np.radians(pitch_deg)
    shoulder = hip + trunk * np.stack([facing * np.sin(lean), -np.cos(lean)], axis=-1)
    knee = hip + 0.85 * trunk * np.array([facing, 0.0])
    bend = np.radians(180.0 - knee_deg)
    shank = 0.85 * trunk * np.stack([facing * np.cos(bend), np.sin(bend)], axis=-1)
    for i, side in enumerate(("left", "right")):
        shift = np.array([4.0 * i, -3.0 * i])
        parts = {
            "shoulder": shoulder,
            "hip": hip,
            "knee": knee,
            "ankle": knee + shank,
            "heel": knee + shank * 1.1,
            "foot_index": knee + shank * 1.1 + np.array([0.2 * trunk * facing, 0.0]),
            "elbow": shoulder + np.array([0.1 * facing, 0.6]) * trunk,
            "wrist": shoulder + np.array([0.5 * facing, 0.7]) * trunk,
            "ear": shoulder + np.array([0.05 * facing, -0.4]) * trunk,
        }
        for part, xy in parts.items():
            points[:, INDEX[f"{side}_{part}"], :2] = xy + shift
        for part in ("pinky", "index", "thumb"):
            points[:, INDEX[f"{side}_{part}"], :2] = parts["wrist"] + shift
        for part in ("eye", "eye_inner", "eye_outer", "mouth"):
            points[:, INDEX[f"{side}_{part}"], :2] = parts["ear"] + np.array([0.12 * trunk * facing, 0.0])
    points[:, INDEX["nose"], :2] = shoulder + np.array([0.22 * facing, -0.38]) * trunk
    return points


def world_of(points: np.ndarray, near: str = "right", trunk: float = 200.0) -> np.ndarray:
    """World metres that put the named side nearest the camera, (T, 33, 3)."""
    world = points / trunk * 0.5
    for side in ("left", "right"):
        depth = -0.15 if side == near else 0.15
        for i, name in enumerate(KEYPOINTS):
            if name.startswith(side):
                world[:, i, 2] = depth
    return world


def landmarks(*people: np.ndarray, near: str = "right", rate_hz: float = 30.0) -> Landmarks:
    """Landmarks of people given as (T, 33, 3) px; NaN frames stay empty."""
    image = np.stack(people, axis=1)
    world = np.stack([world_of(p, near) for p in people], axis=1)
    seen = np.where(np.isnan(image[..., 0]), np.nan, 0.95)
    frame = np.arange(len(image))
    return Landmarks(frame, frame / rate_hz, image, world, seen, seen.copy(), "stick")
