"""The machines: fixed frames, pads fitted to the body, and parts that move with it.

A machine has `static` meshes, moving `parts` (one bone each) and
`place(pose, motion, t)`, which returns a (rotation (3, 3), shift (3,)) for
each part and the marks pivot, stack, handle, pad, pad_end (3,) m (NaN when absent).
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering.rig import SIDE_SIGN, X, elbow_point, turn
from sample_clips.rendering.scene import box, cylinder, frame_along
from sample_clips.rendering.tags import add_tags

FRAME, PAD, STEEL, PLATE, GRIP, MARK, PAPER, INK = range(8)
PIVOT_DEPTH_M = 0.15
NOWHERE = np.full(3, np.nan)
PLATES = 8
PLATE_M = 0.036
UNIT_BAR = ((0, 0, 0), (0, 0, 1))


def materials(spec):
    """Linear colours (8, 3) of frame, pad, steel, plates, grips, the pivot's disc, paper and ink."""
    frame = {
        "grey": (0.3, 0.31, 0.33),
        "white": (0.6, 0.6, 0.58),
        "black": (0.03, 0.03, 0.035),
        "red": (0.4, 0.03, 0.03),
        "yellow": (0.55, 0.4, 0.04),
        "blue": (0.04, 0.1, 0.3),
    }[spec.colour]
    return np.array(
        [
            frame,
            (0.035, 0.035, 0.04),
            (0.45, 0.46, 0.48),
            (0.09, 0.09, 0.1),
            (0.02, 0.02, 0.02),
            (0.6, 0.3, 0.03),
            (0.75, 0.75, 0.73),
            (0.02, 0.02, 0.02),
        ]
    )


class Machine:
    """A seat, a back or chest pad, a weight tower and the parts of one exercise."""

    def __init__(self, motion, posed, near):
        """Posed (V, 3): the lifter's mesh at the load-down end; near: '.L' or '.R', nearest the camera."""
        self.motion, self.station, self.near = motion, motion.station, near
        self.exercise = motion.scenario.exercise
        self.static, self.parts, self._placers = [], [], []
        self.fixed = {"pad": NOWHERE, "pad_end": NOWHERE}
        self.stack_part, self.lever_part, self.board = [], [], None
        self._seat(posed)
        self._pad(posed)
        self._tower()
        {
            "leg-extension": self._leg_lever,
            "leg-curl": self._leg_lever,
            "lat-pulldown": self._bar_and_cable,
        }.get(self.exercise, self._arm_levers)()
        self._occluder()
        if "tags" in motion.scenario.conditions:
            self.board = add_tags(self, PAPER, INK)

    def place(self, held, t):
        """Transforms of all parts and the marks for a machine pose at t (s)."""
        marks = {"pivot": NOWHERE, "stack": NOWHERE, "handle": NOWHERE, **self.fixed}
        transforms = []
        for placer in self._placers:
            transforms.extend(placer(held, t, marks))
        return transforms, marks

    def _add(self, meshes, placer):
        """Moving parts (lists of meshes on one bone each) and the function that places them."""
        self.parts.extend(meshes)
        self._placers.append(placer)

    def _seat(self, posed):
        hip, rig = self.station.mid_hip, self.station.rig
        front = hip[1] - rig.thigh_m * 0.78
        under = (np.abs(posed[:, 0]) < 0.22) & (posed[:, 1] > front) & (posed[:, 1] < hip[1] + 0.1)
        top = np.quantile(posed[under & (posed[:, 2] > hip[2] - 0.2), 2], 0.004) + 0.006
        back = hip[1] + 0.16
        self.static += [
            box((0, (front + back) / 2, top - 0.04), (0.4, back - front, 0.08), PAD),
            box((0, hip[1], (top - 0.08) / 2), (0.09, 0.12, top - 0.08), FRAME),
            box((0, -0.1, 0.03), (0.1, 1.1, 0.06), FRAME),
            box((0, 0.4, 0.03), (0.6, 0.08, 0.06), FRAME),
            box((0, -0.62, 0.03), (0.5, 0.08, 0.06), FRAME),
        ]
        self.seat_top = top
        if self.exercise.startswith("leg"):
            for s in (1, -1):
                grip = np.array([s * 0.27, hip[1] - 0.10, hip[2] + 0.01])
                self.static += [
                    cylinder(grip + np.array([0, -0.1, 0.0]), grip + np.array([0, 0.1, 0.0]), 0.016, GRIP),
                    cylinder(
                        grip + np.array([0, 0.09, 0]), [s * 0.18, hip[1] + 0.09, top - 0.05], 0.014, FRAME
                    ),
                ]

    def _pad(self, posed):
        if self.exercise == "lat-pulldown":
            return
        tilt = turn(X, self.station.trunk_deg)
        side = -1.0 if self.exercise == "reverse-fly" else 1.0
        out = tilt @ np.array([0.0, side, 0.0])
        up = tilt @ np.array([0.0, 0.0, 1.0])
        hip = self.station.mid_hip
        along = (posed - hip) @ up
        trunk = (np.abs(posed[:, 0]) < 0.13) & (along > 0.12) & (along < 0.48)
        depth = np.max((posed[trunk] - hip) @ out) - 0.004
        size, middle = (0.28, 0.34) if side < 0 else (0.62, 0.33)
        centre = hip + up * middle + out * (depth + 0.04)
        self.static.append(box(centre, (0.26 if side < 0 else 0.32, 0.08, size), PAD, turn=tilt))
        edge = centre - 0.04 * out + SIDE_SIGN[self.near] * (0.13 if side < 0 else 0.16) * X
        self.fixed = {"pad": edge - up * size / 2, "pad_end": edge + up * size / 2}
        foot = centre + out * 0.09 - up * 0.1
        self.static.append(cylinder(centre, foot, 0.03, FRAME))
        self.static.append(cylinder(foot, (0, foot[1] + side * 0.1, 0.03), 0.035, FRAME))

    def _tower(self):
        self.tower = self._tower_place()
        x, y = self.tower
        for s in (-1, 1):
            self.static.append(cylinder((x + s * 0.1, y, 0.05), (x + s * 0.1, y, 1.55), 0.011, STEEL))
            self.static.append(box((x, y + s * 0.14, 0.8), (0.05, 0.04, 1.6), FRAME))
        self.static += [
            box((x, y, 1.6), (0.34, 0.34, 0.06), FRAME),
            box((x, y, 0.04), (0.36, 0.36, 0.08), FRAME),
        ]
        block = [box((0, 0, -PLATE_M * (k + 0.5)), (0.3, 0.2, PLATE_M - 0.006), PLATE) for k in range(4)]
        block.append(box((0, 0, -PLATE_M / 2), (0.31, 0.21, 0.012), MARK))
        self.stack_part = block
        self.rest_top = 0.09 + PLATES * PLATE_M
        self.static += [
            box((x, y, 0.09 + PLATE_M * (k + 0.5)), (0.3, 0.2, PLATE_M - 0.006), PLATE)
            for k in range(PLATES - 4)
        ]
        edge = np.array([SIDE_SIGN[self.near] * 0.15, 0.0, 0.0])

        def placer(held, t, marks):
            top = np.array([x, y, self.rest_top + self.motion.stack_height(t)])
            marks["stack"] = top + edge
            rope = np.array([x, y, 1.58])
            return [(np.eye(3), top), bar_between(top, rope)]

        self._add([block, [cylinder(*UNIT_BAR, 0.006, STEEL)]], placer)

    def _tower_place(self):
        if self.exercise == "lat-pulldown":
            return 0.0, -self.station.rig.thigh_m - 0.62
        if self.motion.scenario.camera.view.startswith("side"):
            return 0.0, 0.62
        left = 1 if self.motion.plan.seed % 2 else -1
        return (0.72 * left, -1.0) if self.exercise == "reverse-fly" else (0.66 * left, 0.5)

    def _leg_lever(self):
        rig, motion = self.station.rig, self.motion
        curl = self.exercise == "leg-curl"
        usual = motion.nominal(0.0)
        along, across = (v / 100 for v in motion.scenario.machine.pivot_offset_cm)
        thigh = np.array([0.0, usual.thigh[self.near][1], usual.thigh[self.near][2]])
        thigh /= np.linalg.norm(thigh)
        up = np.cross(X, thigh) * -1.0
        knees = usual.mid_hip + rig.thigh_m * thigh
        pivot = knees + along * thigh + across * up
        sign = SIDE_SIGN[self.near] * (1.0 if motion.scenario.machine.lever_side == "near" else -1.0)
        hip_x = rig.body.head_of("upperleg01.L")[0]
        lateral = sign * (hip_x + 0.06 * rig.thigh_m + PIVOT_DEPTH_M)
        hub = pivot + lateral * X
        reach = rig.shank_m * 0.80
        pad = 0.11 if curl else -0.10
        arm = [
            cylinder((lateral, 0, 0), (lateral, 0, -reach), 0.013, FRAME),
            cylinder((lateral, 0, -reach), (lateral, pad, -reach), 0.013, FRAME),
            cylinder((lateral, pad, -reach), (-sign * 0.24, pad, -reach), 0.045, PAD),
            cylinder((lateral - 0.02, 0, 0), (lateral + 0.02, 0, 0), 0.026, MARK),
        ]
        self.static.append(cylinder(hub - sign * 0.02 * X, hub + np.array([0, 0.34, -0.06]), 0.02, FRAME))
        self.static.append(
            cylinder(hub + np.array([0, 0.34, -0.06]), (0, hub[1] + 0.34, self.seat_top - 0.1), 0.02, FRAME)
        )
        slope = np.degrees(np.arctan2(thigh[2], -thigh[1]))

        def placer(held, t, marks):
            swing = turn(X, 90.0 - motion.timeline.drive(t) - slope)
            marks["pivot"] = hub
            marks["handle"] = pivot + swing @ np.array([lateral, pad, -reach])
            return [(swing, pivot)]

        self._add([arm], placer)
        self.lever_part, self.lever_arm = arm, (lateral, reach)
        if curl:
            top = knees - 0.12 * thigh + 0.105 * up
            self.static.append(cylinder(top - 0.22 * X, top + 0.22 * X, 0.045, PAD))

    def _bar_and_cable(self):
        pulley = np.array([0.0, -0.30, 2.28])
        _, y = self.tower
        self.static += [
            box((0, (y + pulley[1]) / 2, 2.34), (0.08, abs(y - pulley[1]) + 0.1, 0.07), FRAME),
            box((0, y, 1.17), (0.09, 0.09, 2.34), FRAME),
        ]
        knee = self.station.mid_hip + np.array([0, -self.station.rig.thigh_m * 0.8, 0.12])
        self.static += [
            cylinder(knee - 0.24 * X, knee + 0.24 * X, 0.05, PAD),
            box((0, knee[1] - 0.13, knee[2] / 2), (0.06, 0.06, knee[2]), FRAME),
        ]
        bar = [cylinder((-0.58, 0, 0), (0.58, 0, 0), 0.014, STEEL)]

        def placer(held, t, marks):
            left, right = self._hands(held)
            middle = (left + right) / 2
            marks["handle"] = left if self.near == ".L" else right
            tilt = frame_along(left - right) @ frame_along(X).T
            return [(tilt, middle), bar_between(middle, pulley)]

        self._add([bar, [cylinder(*UNIT_BAR, 0.006, STEEL)]], placer)

    def _arm_levers(self):
        chest_fly = self.exercise.endswith("fly")
        rig, hip = self.station.rig, self.station.mid_hip
        shoulder = hip + np.array([0, 0.0, rig.trunk_m])
        anchors = {
            "chest-press": (0.44, -0.42, 0.42),
            "shoulder-press": (0.46, 0.55, shoulder[2] - 0.12),
            "chest-fly": (0.16, 0.16, shoulder[2] + 0.62),
            "reverse-fly": (0.16, -0.22, shoulder[2] + 0.62),
        }
        if self.exercise not in anchors:
            return
        anchor = np.array(anchors[self.exercise])
        post = [anchor * [s, 1, 1] for s in (1, -1)]
        if chest_fly:
            back = 0.42 if self.exercise == "chest-fly" else -0.62
            self.static += [
                box((0, (back + anchor[1]) / 2, anchor[2]), (0.1, abs(back - anchor[1]) + 0.1, 0.08), FRAME),
                box((0, anchor[1], anchor[2]), (0.44, 0.08, 0.08), FRAME),
                box((0, back, anchor[2] / 2), (0.1, 0.1, anchor[2]), FRAME),
            ]
        else:
            self.static += [cylinder((p[0], p[1], 0.03), p, 0.03, FRAME) for p in post]
        grip_axis = (0, 0, 1) if chest_fly else (1, 0, 0)
        grip = cylinder(-0.07 * np.array(grip_axis), 0.07 * np.array(grip_axis), 0.016, GRIP)

        def placer(held, t, marks):
            hands = self._hands(held, self.station.arm_pads)
            marks["handle"] = hands[0] if self.near == ".L" else hands[1]
            out = []
            for hand, anchor_at, s in zip(hands, post, (1, -1), strict=True):
                end = hand + (np.array([0, 0, 0.07]) if chest_fly else np.array([s * 0.08, 0, 0]))
                out += [(np.eye(3), hand), bar_between(anchor_at, end)]
            return out

        lever = cylinder(*UNIT_BAR, 0.018, FRAME)
        self._add([[grip], [lever], [grip], [lever]], placer)

    def _hands(self, held, elbows=False):
        """Grip centres (left, right) m: 7 cm past the wrist, or the elbows' place with arm pads."""
        rig, out = self.station.rig, []
        for side in SIDE_SIGN:
            shoulder, _ = rig.shoulder(held, side)
            arm = held.arms[side]
            wrist = arm.wrist if arm.in_world else shoulder + arm.wrist
            elbow, wrist, _ = elbow_point(shoulder, wrist, rig.upper_m, rig.fore_m, arm.pole)
            out.append(elbow if elbows else wrist + 0.075 * (wrist - elbow) / rig.fore_m)
        return out

    def _occluder(self):
        kind = self.motion.scenario.machine.occluder
        sign, hip = SIDE_SIGN[self.near], self.station.mid_hip
        if kind == "post":
            self.static.append(box((sign * 0.62, hip[1] - 0.40, 0.9), (0.05, 0.05, 1.8), FRAME))
        elif kind == "plate":
            self.static.append(box((sign * 0.45, hip[1] - 0.05, hip[2] - 0.02), (0.03, 0.34, 0.3), FRAME))
        elif kind == "screen":
            self.static.append(box((sign * 0.75, hip[1] - 0.45, 0.5), (0.03, 1.0, 1.0), FRAME))
        elif kind == "arm-screen":
            self.static.append(box((sign * 0.75, hip[1] - 0.42, hip[2] + 0.38), (0.03, 0.95, 0.42), FRAME))


def bar_between(start, end):
    """Transform of the unit bar along z so that it spans two points (3,) m."""
    line = end - start
    length = np.linalg.norm(line)
    return frame_along(line) @ np.diag([1.0, 1.0, length]), start
