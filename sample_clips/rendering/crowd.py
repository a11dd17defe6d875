"""Other people in the picture: standing still, a trainer close by, walking past."""

from __future__ import annotations

import numpy as np

from sample_clips.rendering.body import make_body
from sample_clips.rendering.postures import mirror, unit
from sample_clips.rendering.rig import SIDE_SIGN, ArmPose, Pose, Rig, Z, turn

STEP_HZ = 0.9


class Person:
    """One other person; `pose(t)` is None while out of the room."""

    def __init__(self, spec):
        self.spec = spec
        self.body = make_body(spec.body)
        self.rig = Rig(self.body)
        sole = self.body.head_of("foot.L")[2] - self.body.mesh.verts[:, 2].min()
        self.hip_z = sole + self.rig.thigh_m + self.rig.shank_m - 0.012

    def pose(self, t):
        """Pose at t (s): walking along a line, or standing with a little sway."""
        spec = self.spec
        speed = np.hypot(*spec.walk)
        if speed == 0:
            return self._standing(t)
        place = np.array(spec.place) + np.array(spec.walk) * (t - spec.start_s)
        if t < spec.start_s or np.abs(place).max() > 4.0:
            return None
        heading = float(np.degrees(np.arctan2(spec.walk[0], -spec.walk[1])))
        return self._walking(place, heading, t)

    def _standing(self, t):
        sway = np.sin(2 * np.pi * 0.23 * t + self.spec.place[0])
        near = 1.0 if self.spec.kind == "trainer" else 0.0
        pose = self._upright(np.array(self.spec.place), self.spec.heading_deg, 2.0 + 1.5 * sway + 6 * near)
        pose.head_yaw, pose.head_pitch = 14 * np.sin(0.5 * t + self.spec.place[1]), 4 + 12 * near
        about = turn(Z, self.spec.heading_deg)
        for side, s in SIDE_SIGN.items():
            lift = near * (0.5 + 0.5 * np.sin(0.9 * t + s)) * (s > 0)
            wrist = np.array([s * 0.16, -0.10 - 0.22 * lift, -0.50 + 0.3 * lift])
            pose.arms[side] = ArmPose(
                about @ wrist,
                about @ mirror((0.5, 0.8, -0.2), side),
                about @ np.array([0, -1.0, 0.2]),
                curl=0.5,
            )
        return pose

    def _walking(self, place, heading, t):
        pose = self._upright(place, heading, 4.0)
        phase = 2 * np.pi * STEP_HZ * t
        about = turn(Z, heading)
        for side, s in SIDE_SIGN.items():
            swing = np.sin(phase) * s
            pose.thigh[side] = unit(
                (0.02 * s, -np.sin(np.radians(22 * swing + 6)), -np.cos(np.radians(22 * swing + 6)))
            )
            pose.knee[side] = 172 - 28 * max(0.0, np.cos(phase) * s)
            wrist = np.array([s * 0.14, 0.18 * swing - 0.06, -0.5])
            pose.arms[side] = ArmPose(
                about @ wrist, about @ mirror((0.3, 1.0, 0), side), about @ np.array([0, -1.0, 0]), curl=0.5
            )
        return pose

    def _upright(self, place, heading, trunk):
        hip = np.array([place[0], place[1], self.hip_z])
        thigh = {side: unit((0.05 * s, -0.02, -1.0)) for side, s in SIDE_SIGN.items()}
        return Pose(
            hip, trunk, 4.0, thigh, dict.fromkeys(SIDE_SIGN, 176.0), {}, heading=heading, foot_flat=True
        )
