"""True angles (degrees) from true joint centres (m), z up, lifter facing -y."""

from __future__ import annotations

import numpy as np

JOINT_BONES = {
    "shoulder": "upperarm01",
    "elbow": "lowerarm01",
    "wrist": "wrist",
    "hip": "upperleg01",
    "knee": "lowerleg01",
    "ankle": "foot",
}
SURFACE = ("left_heel", "right_heel", "left_toe", "right_toe", "left_ear", "right_ear", "nose")
JOINT_NAMES = (
    *(f"{side}_{name}" for name in JOINT_BONES for side in ("left", "right")),
    *SURFACE,
    "mid_hip",
    "mid_shoulder",
)


def joints(body, centres, surface):
    """Joint positions (J, 3) m in the order of JOINT_NAMES; surface: name -> (3,) m."""
    out = {}
    for name, bone in JOINT_BONES.items():
        for word, side in (("left", ".L"), ("right", ".R")):
            out[f"{word}_{name}"] = centres[body.index[bone + side]]
    out.update({name: surface.get(name, np.full(3, np.nan)) for name in SURFACE})
    out["mid_hip"] = (out["left_hip"] + out["right_hip"]) / 2
    out["mid_shoulder"] = (out["left_shoulder"] + out["right_shoulder"]) / 2
    return np.array([out[name] for name in JOINT_NAMES])


def point(places, name):
    """Joint (..., 3) by name from an array (..., J, 3)."""
    return places[..., JOINT_NAMES.index(name), :]


def included(a, b, c):
    """Included angle (...) at b in degrees, 180 = straight; points (..., 3)."""
    u, v = a - b, c - b
    cross = np.linalg.norm(np.cross(u, v), axis=-1)
    return np.degrees(np.arctan2(cross, np.sum(u * v, -1)))


def angle_arrays(places):
    """All angles of joints (F, J, 3) as a dict of (F,) arrays.

    knee_* are signed (past straight reads above 180); trunk_pitch_deg is from
    vertical, + forward; arm_horizontal_deg of shoulder to wrist, 0 straight
    ahead, 90 out to the side, mean of both sides; upper_arm_elevation_* from
    hanging down (0) to overhead (180); arm_level_* off the horizontal, + up.
    """
    out = {}
    across = point(places, "left_hip") - point(places, "right_hip")
    for side, sign in (("left", 1.0), ("right", -1.0)):
        hip, knee, ankle = (point(places, f"{side}_{n}") for n in ("hip", "knee", "ankle"))
        shoulder, elbow, wrist = (point(places, f"{side}_{n}") for n in ("shoulder", "elbow", "wrist"))
        bend = included(hip, knee, ankle)
        past = np.sum(np.cross(knee - hip, ankle - knee) * across, -1) < -1e-9
        out[f"knee_{side}_deg"] = np.where(past, 360.0 - bend, bend)
        out[f"elbow_{side}_deg"] = included(shoulder, elbow, wrist)
        out[f"hip_{side}_deg"] = included(shoulder, hip, knee)
        out[f"upper_arm_elevation_{side}_deg"] = included(shoulder + np.array([0, 0, -1.0]), shoulder, elbow)
        out[f"arm_level_{side}_deg"] = _level(elbow - shoulder)
        for end, reach in (("wrist", wrist), ("elbow", elbow)):
            line = reach - shoulder
            out[f"{end}_horizontal_{side}_deg"] = np.degrees(np.arctan2(sign * line[..., 0], -line[..., 1]))
    out["arm_horizontal_deg"] = (out["wrist_horizontal_left_deg"] + out["wrist_horizontal_right_deg"]) / 2
    out["upper_arm_horizontal_deg"] = (
        out["elbow_horizontal_left_deg"] + out["elbow_horizontal_right_deg"]
    ) / 2
    trunk = point(places, "mid_shoulder") - point(places, "mid_hip")
    out["trunk_pitch_deg"] = np.degrees(np.arctan2(-trunk[..., 1], trunk[..., 2]))
    return out


def _level(line):
    return np.degrees(np.arctan2(line[..., 2], np.linalg.norm(line[..., :2], axis=-1)))


def drive_angle(exercise, angles, near, arm_pads=False):
    """The drive (F,) deg of an exercise; near is 'left' or 'right'."""
    if exercise.startswith("leg"):
        return angles[f"knee_{near}_deg"]
    if exercise.endswith("fly"):
        return angles["upper_arm_horizontal_deg" if arm_pads else "arm_horizontal_deg"]
    if exercise.startswith("none"):
        return angles[f"knee_{near}_deg"]
    return angles[f"elbow_{near}_deg"]
