"""Movements of the lifter that are no repetition: getting in and out, a wiped face, hands that talk."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_clips.rendering.postures import mirror, unit
from sample_clips.rendering.profile import smooth
from sample_clips.rendering.rig import SIDE_SIGN, ArmPose

#: Seconds in which a body gets into such a movement, and again out of it.
INTO_S = 0.9


@dataclass(frozen=True)
class Aside:
    """One such movement from start_s to end_s.

    from_first: it goes on from before the clip; to_last: until after it.
    """

    kind: str
    start_s: float
    end_s: float
    from_first: bool = False
    to_last: bool = False

    def weight(self, t):
        """How far (0 to 1) the body is in it at t (s)."""
        rise = 1.0 if self.from_first else smooth((t - self.start_s) / INTO_S)
        fall = 1.0 if self.to_last else 1 - smooth((t - self.end_s + INTO_S) / INTO_S)
        return float(rise * fall) if self.start_s <= t <= self.end_s else 0.0

    def apply(self, pose, station, t):
        """Move the pose (its own dictionaries) as far into the movement as it is at t (s)."""
        share = self.weight(t)
        if share > 0:
            _DOINGS[self.kind](pose, station, share, t)


def asides(plan, timeline):
    """The movements that a set's plan and its repetitions ask for, in order of time."""
    found, last_s = [], timeline.last_s()
    if plan.before:
        stands = plan.before == "stand"
        end_s = max(timeline.first_s - 0.7, INTO_S)
        found.append(Aside(plan.before, 0.0 if stands else 0.4, end_s, from_first=stands))
    for rep, after in zip(timeline.reps, timeline.reps[1:], strict=False):
        if rep.spec.then:
            found.append(Aside(rep.spec.then, rep.lower.end_s + 0.1, after.lift.start_s - 0.1))
    if plan.after:
        stands = plan.after == "stand"
        found.append(Aside(plan.after, last_s + 0.8, timeline.duration_s, to_last=stands))
    return found


def _stand(pose, station, share, t):
    """Up from the seat: the trunk leans forward on the way, and the legs straighten."""
    rig = station.rig
    bow = 38.0 * np.sin(np.pi * min(share, 1.0)) + 3.0 * share
    sole_m = rig.body.head_of("foot.L")[2] - rig.body.mesh.verts[:, 2].min()
    upright_m = sole_m + rig.shank_m + rig.thigh_m - 0.012
    up = np.array([0.0, -0.75 * rig.thigh_m, upright_m - pose.mid_hip[2]])
    pose.mid_hip = pose.mid_hip + share * up
    pose.trunk_pitch += share * (3.0 - pose.trunk_pitch) + bow * (1 - share)
    for side, s in SIDE_SIGN.items():
        down = np.array([0.04 * s, -0.05, -1.0])
        pose.thigh[side] = unit(pose.thigh[side] + share * (down - pose.thigh[side]))
        pose.knee[side] += share * (174.0 - pose.knee[side])
    _hands(pose, station, share, lambda s: (0.22 * s, -0.10, -0.52), sway_m=0.02, t=t)


def _lean(pose, station, share, t):
    """To the pin or the seat's lever: the trunk turned and bent, one hand low."""
    pose.heading += share * 38.0 * SIDE_SIGN[station.far]
    pose.trunk_pitch += share * (27.0 + 3.0 * np.sin(1.7 * t))
    _hands(pose, station, share, lambda s: (0.25 * s, -0.30, -0.42), sway_m=0.05, t=t)


def _stretch(pose, station, share, t):
    """Both arms over the head."""
    _hands(pose, station, share, lambda s: (0.05 * s, -0.05, 0.56), sway_m=0.04, t=t)


def _talk(pose, station, share, t):
    """Hands that talk, in front of the chest."""
    pose.head_yaw += share * 25.0
    _hands(pose, station, share, lambda s: (0.10 * s, -0.34, -0.18), sway_m=0.11, t=3.0 * t)


def _wipe(pose, station, share, t):
    """One hand wipes the face."""
    head = lambda s: (-0.14 * s, -0.17 + 0.01 * np.sin(9 * t), 0.19 + 0.05 * np.sin(7 * t))  # noqa: E731
    _hands(pose, station, share, head, only="." + ("R" if station.far == ".L" else "L"))


def _hands(pose, station, share, place, sway_m=0.0, t=0.0, only=None):
    """Hands to a place (side's sign to (3,) m from the shoulder), swaying."""
    for i, (side, s) in enumerate(SIDE_SIGN.items()):
        if only not in (None, side):
            continue
        shoulder, _ = station.rig.shoulder(pose, side)
        arm = pose.arms[side]
        here = arm.wrist if arm.in_world else shoulder + arm.wrist
        sway = sway_m * np.sin(np.array([1.1, 1.7, 2.3]) * t + 2 * i)
        there = shoulder + np.array(place(s)) + sway
        pose.arms[side] = ArmPose(
            here + share * (there - here),
            arm.pole + share * (mirror((0.6, 0.4, -0.7), side) - arm.pole),
            arm.thumb + 0.9 * share * (mirror((-0.6, -0.6, 0.4), side) - arm.thumb),
            True,
            1 - 0.6 * share,
        )


_DOINGS = {"stand": _stand, "lean": _lean, "stretch": _stretch, "talk": _talk, "wipe": _wipe}
KINDS = tuple(_DOINGS)
