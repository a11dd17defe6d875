"""Poses a body: world rotations per bone from directions, hinges and reach targets."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sample_clips.rendering.body import FINGERS, TRUNK

SIDE_SIGN = {".L": 1.0, ".R": -1.0}
CURL_DEG = {1: (15, 30, 45), 2: (65, 140, 175), 3: (65, 140, 175), 4: (65, 140, 175), 5: (65, 140, 175)}


@dataclass
class ArmPose:
    """One arm. wrist: (3,) m relative to the shoulder joint, or in the world if `in_world`.

    pole (3,): the way the elbow points; thumb (3,): the way the thumb side of
    the fist points. elbow (3,) direction fixes the upper arm instead of the pole.
    """

    wrist: np.ndarray
    pole: np.ndarray
    thumb: np.ndarray
    in_world: bool = False
    curl: float = 1.0


@dataclass
class Pose:
    """Everything that fixes a body. Angles in degrees, lengths in metres, world axes.

    trunk_pitch: of the line mid-hip to mid-shoulder, + forward. knee: signed
    included angle (above 180 is past straight). thigh: unit directions.
    """

    mid_hip: np.ndarray
    trunk_pitch: float
    head_pitch: float
    thigh: dict
    knee: dict
    arms: dict
    head_yaw: float = 0.0
    shoulder_raise: dict = field(default_factory=lambda: {".L": 0.0, ".R": 0.0})
    foot_flat: bool = False
    foot_pitch: float = 0.0
    heading: float = 0.0


def turn(axis, degrees):
    """Rotation matrix (3, 3) about an axis (3,) (need not be unit length)."""
    a = np.asarray(axis, float)
    a = a / np.linalg.norm(a)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    k = np.array([[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])
    return np.eye(3) + s * k + (1 - c) * (k @ k)


X, Y, Z = np.eye(3)


def frame(direction, normal):
    """Orthonormal columns: along the direction, the part of normal across it, their product."""
    d = direction / np.linalg.norm(direction)
    n = normal - d * (normal @ d)
    n = n / np.linalg.norm(n)
    return np.stack([d, n, np.cross(d, n)], 1)


def half_way(first, second):
    """Rotation in the middle of two rotations."""
    u, _, v = np.linalg.svd(first + second)
    r = u @ v
    return r if np.linalg.det(r) > 0 else first


def elbow_point(shoulder, wrist, upper, fore, pole):
    """Elbow (3,), reachable wrist (3,) and hinge normal (3,) of a two-bone arm."""
    line = wrist - shoulder
    distance = np.clip(np.linalg.norm(line), abs(upper - fore) + 1e-3, (upper + fore) * 0.99999)
    u = line / np.linalg.norm(line)
    p = pole - u * (pole @ u)
    p = p / np.linalg.norm(p)
    along = (upper**2 - fore**2 + distance**2) / (2 * distance)
    high = np.sqrt(max(upper**2 - along**2, 0.0))
    return shoulder + u * along + p * high, shoulder + u * distance, np.cross(p, u)


def reach(upper, fore, elbow_deg):
    """Shoulder to wrist distance for an included elbow angle."""
    return float(np.sqrt(upper**2 + fore**2 - 2 * upper * fore * np.cos(np.radians(elbow_deg))))


class Rig:
    """Poses one body; reuse it for all frames."""

    def __init__(self, body):
        self.body = body
        self._straighten()
        h = body.head_of
        self.mid_hip = (h("upperleg01.L") + h("upperleg01.R")) / 2
        line = (h("upperarm01.L") + h("upperarm01.R")) / 2 - self.mid_hip
        self.rest_pitch = float(np.degrees(np.arctan2(-line[1], line[2])))
        self.trunk_m = float(np.linalg.norm(line))
        self.thigh_m = body.length("upperleg01.L", "lowerleg01.L")
        self.shank_m = body.length("lowerleg01.L", "foot.L")
        self.upper_m = body.length("upperarm01.L", "lowerarm01.L")
        self.fore_m = body.length("lowerarm01.L", "wrist.L")
        self._rest_frames()

    def _straighten(self):
        """Put twist bones on the line of their limb, so that twist moves no joint."""
        heads, index = self.body.heads, self.body.index
        for side in SIDE_SIGN:
            for start, middle, end in (
                ("upperleg01", "upperleg02", "lowerleg01"),
                ("lowerleg01", "lowerleg02", "foot"),
                ("upperarm01", "upperarm02", "lowerarm01"),
                ("lowerarm01", "lowerarm02", "wrist"),
            ):
                a, b, c = (index[n + side] for n in (start, middle, end))
                line = heads[c] - heads[a]
                heads[b] = heads[a] + line * ((heads[b] - heads[a]) @ line) / (line @ line)

    def _rest_frames(self):
        h = self.body.head_of
        self._frames = {}
        for side in SIDE_SIGN:
            thigh, shank = (
                h("lowerleg01" + side) - h("upperleg01" + side),
                h("foot" + side) - h("lowerleg01" + side),
            )
            upper, fore = (
                h("lowerarm01" + side) - h("upperarm01" + side),
                h("wrist" + side) - h("lowerarm01" + side),
            )
            hand = h("finger3-1" + side) - h("wrist" + side)
            thumb = h("finger2-1" + side) - h("finger5-1" + side)
            hinge = np.cross(upper, fore)
            self._frames["thigh" + side] = frame(thigh, X)
            self._frames["shank" + side] = frame(shank, X)
            self._frames["upper" + side] = frame(upper, hinge)
            self._frames["fore" + side] = frame(fore, hinge)
            self._frames["hand" + side] = frame(hand, thumb)

    def solve(self, pose):
        """World rotations (B, 3, 3) and joint centres (B, 3) m of a `Pose`."""
        fixed = {}
        about = turn(Z, pose.heading)
        trunk = about @ turn(X, pose.trunk_pitch - self.rest_pitch)
        for name in ("root", *TRUNK):
            fixed[name] = trunk
        self._head(fixed, pose, about)
        for side in SIDE_SIGN:
            self._leg(fixed, pose, side, about)
            self._arm(fixed, pose, side, trunk)
        root = pose.mid_hip + trunk @ (self.body.head_of("root") - self.mid_hip)
        return self._forward(fixed, root)

    def bone_shift(self, rotations, centres):
        """Shift (B, 3) so that a rest point v moves to rotation @ v + shift."""
        return centres - np.einsum("bij,bj->bi", rotations, self.body.heads)

    def _head(self, fixed, pose, about):
        for share, name in ((0.25, "neck01"), (0.5, "neck02"), (0.8, "neck03"), (1.0, "head")):
            pitch = (1 - share) * (pose.trunk_pitch - self.rest_pitch) + share * pose.head_pitch
            fixed[name] = about @ turn(Z, share * pose.head_yaw) @ turn(X, pitch)

    def _leg(self, fixed, pose, side, about):
        thigh = about @ pose.thigh[side]
        hinge = about @ X
        hinge = hinge - thigh * (hinge @ thigh)
        hinge /= np.linalg.norm(hinge)
        shank = turn(hinge, 180.0 - pose.knee[side]) @ thigh
        fixed["upperleg01" + side] = frame(thigh, hinge) @ self._frames["thigh" + side].T
        fixed["lowerleg01" + side] = frame(shank, hinge) @ self._frames["shank" + side].T
        if pose.foot_flat:
            fixed["foot" + side] = about @ turn(X, pose.foot_pitch)
        else:
            fixed["foot" + side] = turn(hinge, pose.foot_pitch) @ fixed["lowerleg01" + side]

    def shoulder(self, pose, side, trunk=None):
        """Shoulder joint (3,) m of a pose, and the girdle's rotation."""
        if trunk is None:
            trunk = turn(Z, pose.heading) @ turn(X, pose.trunk_pitch - self.rest_pitch)
        h, s = self.body.head_of, SIDE_SIGN[side]
        span = h("upperarm01" + side) - h("clavicle" + side)
        angle = np.degrees(np.arcsin(np.clip(pose.shoulder_raise[side] / np.linalg.norm(span), -0.5, 0.8)))
        girdle = trunk @ turn(Y, -s * angle)
        return pose.mid_hip + trunk @ (h("clavicle" + side) - self.mid_hip) + girdle @ span, girdle

    def _arm(self, fixed, pose, side, trunk):
        arm = pose.arms[side]
        shoulder, girdle = self.shoulder(pose, side, trunk)
        wrist = arm.wrist if arm.in_world else shoulder + arm.wrist
        elbow, wrist, hinge = elbow_point(shoulder, wrist, self.upper_m, self.fore_m, arm.pole)
        upper = frame(elbow - shoulder, hinge) @ self._frames["upper" + side].T
        fore = frame(wrist - elbow, hinge) @ self._frames["fore" + side].T
        hand = frame(wrist - elbow, arm.thumb) @ self._frames["hand" + side].T
        fixed["clavicle" + side] = fixed["shoulder01" + side] = girdle
        rest_dir, new_dir = (
            self._frames["upper" + side][:, 0],
            (elbow - shoulder) / np.linalg.norm(elbow - shoulder),
        )
        swing = _shortest(girdle @ rest_dir, new_dir) @ girdle
        fixed["upperarm01" + side] = half_way(swing, upper)
        fixed["upperarm02" + side] = upper
        fixed["lowerarm01" + side] = fore
        fixed["lowerarm02" + side] = self._half_twist(fore, hand, side)
        fixed["wrist" + side] = hand
        self._fingers(fixed, side, hand, arm.curl)

    def _half_twist(self, fore, hand, side):
        """The forearm turned about its own axis by half of the hand's twist."""
        rest = self._frames["hand" + side]
        axis = fore @ self._frames["fore" + side][:, 0]
        plain = _shortest(fore @ rest[:, 0], axis) @ fore @ rest[:, 1]
        thumb = hand @ rest[:, 1]
        twist = np.degrees(np.arctan2(np.cross(plain, thumb) @ axis, plain @ thumb))
        return turn(axis, twist / 2) @ fore

    def _fingers(self, fixed, side, hand, curl):
        axis = hand @ self._frames["hand" + side][:, 1] * -SIDE_SIGN[side]
        for name in FINGERS:
            finger, joint = int(name[6]), int(name[8])
            fixed[name + side] = turn(axis, curl * CURL_DEG[finger][joint - 1]) @ hand

    def _forward(self, fixed, root):
        body = self.body
        count = len(body.names)
        rotations, centres = np.empty((count, 3, 3)), np.empty((count, 3))
        for i, name in enumerate(body.names):
            up = body.parents[i]
            if up < 0:
                rotations[i], centres[i] = fixed[name], root
                continue
            rotations[i] = fixed.get(name, rotations[up])
            centres[i] = centres[up] + rotations[up] @ (body.heads[i] - body.heads[up])
        return rotations, centres


def _shortest(a, b):
    """Shortest rotation that takes unit vector a to b."""
    axis = np.cross(a, b)
    size = np.linalg.norm(axis)
    if size < 1e-9:
        return np.eye(3)
    return turn(axis, np.degrees(np.arctan2(size, a @ b)))
