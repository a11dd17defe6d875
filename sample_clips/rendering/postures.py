"""How the body sits on each machine and how the drive moves it.

`posture(name)` gives a function (station, drive_deg, offsets) -> `rig.Pose`.
Directions are for the left side; the right is mirrored. Metres and degrees.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from sample_clips.rendering.rig import SIDE_SIGN, ArmPose, Pose, reach

TRUNK_DEG = {
    "leg-extension": -12.0,
    "leg-curl": -12.0,
    "lat-pulldown": -8.0,
    "chest-press": -8.0,
    "shoulder-press": -7.0,
    "chest-fly": -6.0,
    "reverse-fly": 5.0,
    "none-fidget": 2.0,
    "none-passing": 2.0,
}
CHEST_BELOW_SHOULDER = 0.26
HANDLE_FRONT_M = 0.08


@dataclass
class Station:
    """One body fitted to one machine: fixed lengths and places (m) in the world."""

    exercise: str
    rig: object
    hip_z: float
    trunk_deg: float
    ends: tuple
    arm_pads: bool = False
    far: str = ".R"
    arms_out: float = 0.0
    way: tuple = ()

    @property
    def mid_hip(self):
        """Usual mid-hip (3,) m."""
        return np.array([0.0, 0.0, self.hip_z])

    def between(self, narrow, wide):
        """Unit direction between a narrow and a wide way of holding the arms, by `arms_out` (0 to 1)."""
        return unit(np.asarray(narrow) + self.arms_out * (np.asarray(wide) - np.asarray(narrow)))

    def progress(self, drive):
        """Share of the usual range: 0 at the load-down end, 1 at the lift end."""
        down, lift = self.ends
        return (drive - down) / (lift - down)


def make_station(exercise, rig, ends, trunk_deg, arm_pads, far=".R"):
    """Fit the seat to the legs: feet planted, free on the leg machines; far: side away from the camera."""
    body = rig.body
    sole = body.head_of("foot.L")[2] - body.mesh.verts[:, 2].min()
    high = 0.16 if exercise.startswith("leg") else 0.0
    trunk = TRUNK_DEG[exercise] if trunk_deg is None else trunk_deg
    return Station(exercise, rig, sole + rig.shank_m + 0.01 + high, trunk, ends, arm_pads, far)


def mirror(vector, side):
    """A left-side vector (3,) on the given side."""
    return np.array([SIDE_SIGN[side] * vector[0], vector[1], vector[2]], float)


def unit(vector):
    """Unit vector."""
    v = np.asarray(vector, float)
    return v / np.linalg.norm(v)


def base_pose(station, offsets):
    """Trunk, head and hips; legs planted, arms empty."""
    trunk = station.trunk_deg + offsets.get("trunk_pitch_deg", 0.0)
    hip = station.mid_hip + np.array([0.0, -offsets.get("hip_forward_cm", 0.0) / 100, 0.0])
    lift = offsets.get("shoulder_raise_cm", 0.0) / 100
    head = (
        0.25 * station.trunk_deg
        + 0.5 * offsets.get("trunk_pitch_deg", 0.0)
        + offsets.get("head_pitch_deg", 0.0)
    )
    thigh = {s: unit(mirror((0.10, -1.0, 0.03), s)) for s in SIDE_SIGN}
    pose = Pose(hip, trunk, head, thigh, dict.fromkeys(SIDE_SIGN, 90.0), {}, foot_flat=True)
    pose.shoulder_raise = dict.fromkeys(SIDE_SIGN, lift)
    plant_feet(station, pose, offsets.get("feet_forward_cm", 0.0) / 100)
    return pose


def plant_feet(station, pose, forward):
    """Reach fixed places on the floor with the ankles; forward (m) moves the feet."""
    rig = station.rig
    usual = station.mid_hip + np.array([0.0, -rig.thigh_m * 0.99, 0.01 - rig.shank_m * 0.99])
    for side in SIDE_SIGN:
        hip = pose.mid_hip + mirror((rig.body.head_of("upperleg01.L") - rig.mid_hip) * (1, 0, 0), side)
        ankle = usual + mirror((rig.body.head_of("upperleg01.L")[0] + 0.05, -forward + 0.04, 0.0), side)
        line = ankle - hip
        distance = min(np.linalg.norm(line), (rig.thigh_m + rig.shank_m) * 0.999)
        u = line / np.linalg.norm(line)
        pole = np.array([0.0, -1.0, 0.6])
        p = unit(pole - u * (pole @ u))
        along = (rig.thigh_m**2 - rig.shank_m**2 + distance**2) / (2 * distance)
        knee = u * along + p * np.sqrt(max(rig.thigh_m**2 - along**2, 1e-6))
        pose.thigh[side] = unit(knee)
        pose.knee[side] = float(
            np.degrees(
                np.arccos(
                    np.clip(
                        (rig.thigh_m**2 + rig.shank_m**2 - distance**2) / (2 * rig.thigh_m * rig.shank_m),
                        -1,
                        1,
                    )
                )
            )
        )


def legs(station, drive, offsets):
    """Leg extension and leg curl: knees driven, hands on the handles beside the seat."""
    pose = base_pose(station, offsets)
    slope = 0.05 if station.exercise == "leg-extension" else 0.0
    pose.thigh = {s: unit(mirror((0.06, -1.0, slope), s)) for s in SIDE_SIGN}
    pose.knee = dict.fromkeys(SIDE_SIGN, drive)
    pose.foot_flat, pose.foot_pitch = False, 4.0
    grip = station.mid_hip + np.array([0.0, -0.10, 0.05 + 0.06 * (station.rig.trunk_m - 0.48)])
    for side in SIDE_SIGN:
        pose.arms[side] = ArmPose(
            grip + mirror((0.27, 0.0, 0.0), side),
            mirror((0.5, 0.8, 0.2), side),
            mirror((-0.15, -1.0, 0.0), side),
            in_world=True,
        )
    return pose


#: About how far from the shoulders a pull's lift end leaves the hands: turns a height into a direction.
HANDS_AHEAD_CM = 32.0


def pulldown(station, drive, offsets):
    """Lat pulldown: hands overhead at the load-down end, beside the chin at the lift end."""
    pose = base_pose(station, offsets)
    p = float(np.clip(station.progress(drive), -0.15, 1.15))
    press = float(np.clip(offsets.get("hands_down_cm", 0.0) / 10, 0.0, 1.5)) * max(p, 0.0)
    high = station.between((0.16, -0.24, 0.95), (0.36, -0.22, 0.9))
    low = station.between((0.26, -0.95, 0.08), (0.62, -0.66, 0.02)) + press * np.array([0.0, 0.2, -0.6])
    low = low + np.array([0.0, 0.0, offsets.get("hands_up_cm", 0.0) / HANDS_AHEAD_CM])
    direction = unit(high + (low - high) * _ease(p))
    if station.way:
        higher = (offsets.get("hands_up_cm", 0.0) - offsets.get("hands_down_cm", 0.0)) / 100
        direction = _on_way(station, reach(station.rig.upper_m, station.rig.fore_m, drive), (0.0, higher))
    pole = station.between(
        np.array([0.5, -0.62, -0.4]) + p * np.array([0.0, 0.55, -0.6]),
        np.array([0.75, -0.25, -0.45]) + p * np.array([-0.15, 0.35, -0.4]),
    )
    _reaching(
        station,
        pose,
        drive,
        direction,
        offsets,
        pole=unit(pole + press * np.array([0.1, 0.7, 0.9])),
        thumb=(-1.0, -0.1, 0.0),
    )
    _raise_girdle(pose, 0.035 * (1 - p))
    return pose


def chest_press(station, drive, offsets):
    """Chest press: hands level with mid-chest, pushed forward."""
    pose = base_pose(station, offsets)
    p = float(np.clip(station.progress(drive), -0.15, 1.15))
    raised = offsets.get("hands_height_cm", 0.0) / 100
    down = -CHEST_BELOW_SHOULDER * station.rig.trunk_m + raised
    out = 0.13 - 0.09 * p
    d = reach(station.rig.upper_m, station.rig.fore_m, drive)
    forward = -np.sqrt(max(d**2 - out**2 - down**2, 0.01**2))
    direction = unit((out, forward, down))
    if station.way:
        direction = _on_way(station, d, (raised, raised))
    pole = station.between((0.5, 0.35, -0.75), (0.85, 0.35, -0.3))
    _reaching(station, pose, drive, direction, {}, pole=pole, thumb=(-1.0, 0.0, 0.15))
    return pose


def shoulder_press(station, drive, offsets):
    """Shoulder press: hands beside the ears at the load-down end, overhead at the lift end."""
    pose = base_pose(station, offsets)
    p = float(np.clip(station.progress(drive), -0.15, 1.15))
    low = station.between((0.36, -0.46, 0.74), (0.52, -0.36, 0.66))
    high = station.between((0.12, -0.16, 0.98), (0.22, -0.14, 0.97))
    direction = unit(low + (high - low) * _ease(p))
    if station.way:
        direction = _on_way(station, reach(station.rig.upper_m, station.rig.fore_m, drive), (0.0, 0.0))
    _reaching(
        station,
        pose,
        drive,
        direction,
        offsets,
        pole=station.between((0.52, -0.66, -0.5 + 0.35 * p), (0.72, -0.42, -0.5 + 0.35 * p)),
        thumb=(-1.0, -0.1, 0.0),
    )
    _raise_girdle(pose, 0.012 + 0.035 * p)
    return pose


def fly(station, drive, offsets):
    """Chest fly and reverse fly: nearly straight arms swing level at the angle `drive`.

    Elbows that bend go back and leave the hands on their path, or (hands_in 1) keep their place and let the
    hands come in.
    """
    pose = base_pose(station, offsets)
    rig, a = station.rig, np.radians(drive)
    up = np.radians(offsets.get("arm_elevation_deg", -4.0))
    swing = np.array([np.sin(a) * np.cos(up), -np.cos(a) * np.cos(up), np.sin(up)])
    for side in SIDE_SIGN:
        sink = offsets.get("uneven_cm", 0.0) / 100 * (side == station.far)
        if station.arm_pads:
            wrist = rig.upper_m * swing + np.array([0.0, 0.0, rig.fore_m - sink])
            pole = swing - np.array([0.0, 0.0, 0.5])
        else:
            elbow = offsets.get("elbow_deg", 160.0)
            back = offsets.get("hands_in", 0.0) * (_ahead_of_elbow(rig, elbow) - _ahead_of_elbow(rig, 160.0))
            wrist = reach(rig.upper_m, rig.fore_m, elbow) * (_turn((0.0, 0.0, 1.0), -back).apply(swing))
            wrist = wrist + np.array([0.0, 0.0, -sink])
            pole = np.array([np.cos(a), np.sin(a), -0.25])
        thumb = mirror((-1.0, 0.2, 0.0), side) if station.arm_pads else np.array([0.0, 0.0, 1.0])
        pose.arms[side] = ArmPose(mirror(wrist, side), mirror(pole, side), thumb)
    return pose


def _ahead_of_elbow(rig, elbow_deg):
    """Degrees at the shoulder by which the wrist lies ahead of the upper arm."""
    far = reach(rig.upper_m, rig.fore_m, elbow_deg)
    return float(np.degrees(np.arcsin(rig.fore_m / far * np.sin(np.radians(elbow_deg)))))


def sitting(station, drive, offsets):
    """Nobody trains: hands in the lap."""
    pose = base_pose(station, offsets)
    for side in SIDE_SIGN:
        pose.arms[side] = lap_arm(station, side)
    return pose


def lap_arm(station, side):
    """Hand resting on the thigh."""
    place = station.mid_hip + mirror((0.13, -0.26, 0.13), side)
    return ArmPose(
        place, mirror((0.8, 0.5, -0.1), side), mirror((-1.0, -0.3, 0.0), side), in_world=True, curl=0.4
    )


def _reaching(station, pose, drive, direction, offsets, pole, thumb):
    rig = station.rig
    for side in SIDE_SIGN:
        sink = offsets.get("uneven_cm", 0.0) / 100 * (side == station.far)
        wrist = mirror(direction * reach(rig.upper_m, rig.fore_m, drive), side)
        wrist = wrist + np.array([0.0, 0.0, -sink])
        pose.arms[side] = ArmPose(wrist, mirror(pole, side), mirror(thumb, side))


def _on_way(station, far, raised):
    """Direction from the shoulder to where the hand is so far (m) from it on the machine's straight way.

    raised (2,): how much higher than usual (m) the way begins and ends, as far from the shoulder. Where it
    passes the shoulder further off than ``far``, its nearest place.
    """
    usual = (station.rig.upper_m + station.rig.fore_m) * np.reshape(station.way, (2, 3)) * (1, -1, 1)
    higher = usual + np.outer(raised, (0.0, 0.0, 1.0))
    sizes = [np.linalg.norm(ends, axis=1, keepdims=True) for ends in (usual, higher)]
    ends = higher * sizes[0] / sizes[1]
    begin, along = ends[0], ends[1] - ends[0]
    middle, size = -(begin @ along), along @ along
    off = np.sqrt(max(middle**2 - size * (begin @ begin - far**2), 0.0))
    away = sizes[0][1] > sizes[0][0]
    return unit(begin + along * (middle + (off if away else -off)) / size)


def _raise_girdle(pose, metres):
    for side in pose.shoulder_raise:
        pose.shoulder_raise[side] += metres


def _ease(p):
    return p * (2 - p) if 0 <= p <= 1 else p


def turn_arms(pose, machine):
    """The pose with its arms turned as the machine asks (degrees); arms on fixed handles stay."""
    up, out = machine.hands_turn_deg
    if not (up or out or machine.elbow_turn_deg):
        return pose
    for side, arm in pose.arms.items():
        if arm.in_world:
            continue
        hands = _turn((0.0, 0.0, 1.0), SIDE_SIGN[side] * out) * _turn((1.0, 0.0, 0.0), -up)
        wrist = hands.apply(arm.wrist)
        elbow = _turn(wrist, SIDE_SIGN[side] * machine.elbow_turn_deg)
        pose.arms[side] = replace(arm, wrist=wrist, pole=elbow.apply(hands.apply(arm.pole)))
    return pose


def _turn(axis, degrees):
    return Rotation.from_rotvec(unit(axis) * np.radians(degrees))


def hands_behind_drive(station, behind_cm):
    """Load-down drive angle at which the wrists are behind_cm behind the usual front line.

    The line lies 8 cm in front of the shoulder joints (chest press) or at
    them (flies). Solved on the posture itself.
    """
    grid = np.linspace(30.0, 130.0, 401)
    pose_of = POSTURES[station.exercise]
    line = -HANDLE_FRONT_M if station.exercise == "chest-press" else 0.0
    places = np.array([pose_of(station, g, {}).arms[".L"].wrist[1] for g in grid])
    return float(grid[np.argmin(np.abs(places - line - behind_cm / 100))])


POSTURES = {
    "leg-extension": legs,
    "leg-curl": legs,
    "lat-pulldown": pulldown,
    "chest-fly": fly,
    "reverse-fly": fly,
    "chest-press": chest_press,
    "shoulder-press": shoulder_press,
    "none-fidget": sitting,
    "none-passing": sitting,
}
