"""A stick person in space: what the pose is told by, and where its landmarks then lie.

Seat frame in metres: x ahead of the seat, y up, z to the sitter's right; the floor is y = 0.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats
from shared.keypoints import INDEX, KEYPOINTS

#: Where each part of a pose stands in its vector; angles in degrees.
HIP, TURN, PITCH, HEAD = slice(0, 3), 3, 4, 5
HAND = {"left": slice(6, 9), "right": slice(9, 12)}
#: Of a thigh below the level, and the included knee.
THIGH, KNEE = {"left": 12, "right": 13}, {"left": 14, "right": 15}
#: Where the elbows point: down, and out to the side.
ELBOW_DOWN, ELBOW_OUT = 16, 17
SIZE = 18
SIDES = {"left": -1.0, "right": 1.0}
SEAT_M = 0.5


@dataclass(frozen=True)
class Body:
    """Lengths of one person, metres."""

    trunk: float = 0.5
    upper_arm: float = 0.29
    forearm: float = 0.26
    thigh: float = 0.42
    shank: float = 0.43
    shoulders: float = 0.34
    hips: float = 0.22


def _frame(pose: Floats) -> tuple[Floats, Floats, Floats]:
    """Ahead, up and right of the body at each moment, (T, 3) each; only the turn counts."""
    turn = np.radians(pose[:, TURN])
    zero, one = np.zeros(len(pose)), np.ones(len(pose))
    ahead = np.stack([np.cos(turn), zero, np.sin(turn)], axis=-1)
    up = np.stack([zero, one, zero], axis=-1)
    return ahead, up, np.stack([-np.sin(turn), zero, np.cos(turn)], axis=-1)


def shoulders_of(pose: Floats, body: Body) -> Floats:
    """The middle of the shoulders, (T, 3)."""
    ahead, up, _ = _frame(pose)
    pitch = np.radians(pose[:, PITCH])[:, None]
    return np.asarray(pose[:, HIP] + body.trunk * (np.sin(pitch) * ahead + np.cos(pitch) * up))


def joints(pose: Floats, body: Body) -> Floats:
    """All landmarks of poses (T, SIZE) in the seat frame, (T, 33, 3) m."""
    ahead, up, right = _frame(pose)
    out = np.zeros((len(pose), len(KEYPOINTS), 3))
    middle = shoulders_of(pose, body)
    for side, sign in SIDES.items():
        place = {"shoulder": middle + sign * body.shoulders / 2 * right}
        place["hip"] = pose[:, HIP] + sign * body.hips / 2 * right
        place |= _arm(pose, body, side, place["shoulder"], right)
        place |= _leg(pose, body, side, place["hip"], ahead, up)
        for part, where in place.items():
            out[:, INDEX[f"{side}_{part}"]] = where
    _head(out, pose, middle, ahead, up, right)
    return out


def _arm(pose: Floats, body: Body, side: str, shoulder: Floats, right: Floats) -> dict[str, Floats]:
    """Elbow, wrist and fingers by two-bone inverse kinematics; a hand comes as near as it can."""
    a, b = body.upper_arm, body.forearm
    way = pose[:, HAND[side]] - shoulder
    far = np.maximum(np.linalg.norm(way, axis=-1, keepdims=True), 1e-6)
    u = way / far
    reach = np.clip(far, abs(a - b) + 0.03, 0.998 * (a + b))
    hint = SIDES[side] * pose[:, [ELBOW_OUT]] * right - pose[:, [ELBOW_DOWN]] * np.array([0.0, 1.0, 0.0])
    hint = hint - np.sum(hint * u, axis=-1, keepdims=True) * u
    hint = hint / np.maximum(np.linalg.norm(hint, axis=-1, keepdims=True), 1e-6)
    along = (a**2 - b**2 + reach**2) / (2 * reach)
    elbow = shoulder + along * u + np.sqrt(np.maximum(a**2 - along**2, 0.0)) * hint
    wrist = shoulder + reach * u
    fingers = wrist + 0.08 * (wrist - elbow) / b
    return {"elbow": elbow, "wrist": wrist, "pinky": fingers, "index": fingers, "thumb": fingers}


def _leg(pose: Floats, body: Body, side: str, hip: Floats, ahead: Floats, up: Floats) -> dict[str, Floats]:
    def along(below: Floats) -> Floats:
        angle = np.radians(below)[:, None]
        return np.asarray(np.cos(angle) * ahead - np.sin(angle) * up)

    thigh = pose[:, THIGH[side]]
    shank = thigh + 180.0 - pose[:, KNEE[side]]
    knee = hip + body.thigh * along(thigh)
    ankle = knee + body.shank * along(shank)
    heel = ankle + 0.05 * along(shank) - 0.05 * along(shank - 90.0)
    return {"knee": knee, "ankle": ankle, "heel": heel, "foot_index": heel + 0.2 * along(shank - 90.0)}


def _head(out: Floats, pose: Floats, middle: Floats, ahead: Floats, up: Floats, right: Floats) -> None:
    pitch = np.radians(pose[:, PITCH])[:, None]
    nod = np.radians(pose[:, HEAD])[:, None]
    crown = np.sin(pitch) * ahead + np.cos(pitch) * up
    face = np.cos(nod) * ahead - np.sin(nod) * up
    ear = middle + 0.19 * crown
    for side, sign in SIDES.items():
        for part, off in (
            ("ear", 0.07),
            ("eye", 0.03),
            ("eye_inner", 0.02),
            ("eye_outer", 0.04),
            ("mouth", 0.02),
        ):
            depth = 0.0 if part == "ear" else 0.09
            drop = 0.07 if part == "mouth" else 0.0
            out[:, INDEX[f"{side}_{part}"]] = ear + sign * off * right + depth * face - drop * crown
    out[:, INDEX["nose"]] = ear + 0.12 * face - 0.03 * crown
