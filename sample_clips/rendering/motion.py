"""Poses over time: the drive, offsets of repetitions, getting in and out, small movements."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sample_clips.rendering.aside import asides
from sample_clips.rendering.postures import POSTURES, hands_behind_drive, lap_arm, make_station, turn_arms
from sample_clips.rendering.profile import build_timeline, smooth
from sample_clips.rendering.rig import SIDE_SIGN, ArmPose
from sample_clips.rendering.scenario import CONTROLS, DEFAULT_ENDS

REST_SHARE = 0.06
STACK_TRAVEL_M = 0.32
HELD_M = 0.02


class Motion:
    """The lifter of one scenario: `pose(t)` in world axes, drive and load at any time (s)."""

    def __init__(self, scenario, rig):
        self.scenario = scenario
        self.plan = scenario.set
        ends = _usual_ends(scenario)
        self.station = make_station(
            scenario.exercise,
            rig,
            ends,
            self.plan.trunk_deg,
            scenario.machine.arm_pads,
            _far_side(scenario.camera),
        )
        self.station.arms_out = scenario.machine.arms_out
        self.station.way = scenario.machine.way
        specs = [self._with_hands_behind(spec) for spec in scenario.reps]
        self.rest_deg = ends[0] - REST_SHARE * (ends[1] - ends[0])
        plan = self.plan
        self.timeline = build_timeline(
            specs, plan.get_in_s, self.rest_deg, plan.get_out_s, softness=plan.softness
        )
        self.asides = asides(plan, self.timeline)
        self.control = scenario.exercise in CONTROLS
        rng = np.random.default_rng(self.plan.seed + 1000)
        self._phase = rng.uniform(0, 2 * np.pi, 12)
        self._rate = rng.uniform(0.12, 0.45, 12)

    def _with_hands_behind(self, spec):
        if spec.hands_behind_cm is None:
            return spec
        return replace(spec, load_down_end_deg=hands_behind_drive(self.station, spec.hands_behind_cm))

    def offsets(self, t):
        """Blended offsets of the repetitions and the creep over the set at t (s)."""
        total = {}
        for rep in self.timeline.reps:
            if rep.spec.offsets and rep.lift.start_s < t < rep.lower.end_s:
                w = float(rep.weight(t))
                for name, value in rep.spec.offsets.items():
                    usual = {"elbow_deg": 160.0, "arm_elevation_deg": -4.0}.get(name, 0.0)
                    total[name] = usual + w * (value - usual)
        if self.plan.hip_creep_cm:
            span = max(self.timeline.last_s() - self.timeline.first_s, 1e-6)
            done = np.clip((t - self.timeline.first_s) / span, 0, 1)
            total["hip_forward_cm"] = total.get("hip_forward_cm", 0.0) + done * self.plan.hip_creep_cm
        return total

    def settled(self, t):
        """0 in the set, 1 while getting in or out."""
        if self.control:
            return 1.0
        ready = max(self.timeline.first_s - 0.7, 0.01)
        before = 1 - smooth((t - 0.45 * ready) / (0.55 * ready))
        after = smooth((t - self.timeline.last_s() - 0.7) / 1.2)
        return float(max(before, after))

    def nominal(self, t):
        """Pose with both hands on the machine, no small movements: fixes the machine."""
        pose = POSTURES[self.scenario.exercise](self.station, self.timeline.drive(t), self.offsets(t))
        return turn_arms(pose, self.scenario.machine)

    def pose(self, t):
        """The lifter's pose at t (s) and the machine's pose at t."""
        held = self.nominal(t)
        own = ("arms", "knee", "thigh", "shoulder_raise")
        pose = replace(held, **{name: dict(getattr(held, name)) for name in own})
        free = self.settled(t)
        pose.trunk_pitch += 0.25 * self._sway(0, t)
        pose.head_pitch += 1.0 * self._sway(1, t) + free * 7 * self._sway(2, t)
        pose.head_yaw = 1.5 * self._sway(3, t) + free * 22 * self._sway(4, t)
        if free > 0:
            self._loosen(pose, held, t, free)
        for aside in self.asides:
            aside.apply(pose, self.station, t)
        return pose, held

    def _loosen(self, pose, held, t, free):
        pose.trunk_pitch += free * (9 + 5 * self._sway(5, t))
        fidget = self.plan.fidget_deg * (2.5 if self.control else 1.0)
        if self.scenario.exercise.startswith("leg"):
            toward = np.sign(self.timeline.rest_deg - 120) or -1.0
            for i, side in enumerate(SIDE_SIGN):
                pose.knee[side] += (
                    free * fidget * (0.4 * self._sway(6, t) + 0.4 * self._sway(7 + i, t) + 0.6) * toward
                )
        for i, side in enumerate(SIDE_SIGN):
            shoulder, _ = self.station.rig.shoulder(held, side)
            arm = held.arms[side]
            grip = arm.wrist if arm.in_world else shoulder + arm.wrist
            lap = lap_arm(self.station, side)
            wobble = (
                0.006 * fidget * np.array([self._sway(9, t), self._sway(10, t), abs(self._sway(11 - i, t))])
            )
            pose.arms[side] = ArmPose(
                grip + free * (lap.wrist + free * wobble - grip),
                arm.pole + free * (lap.pole - arm.pole),
                arm.thumb + free * 0.9 * (lap.thumb - arm.thumb),
                True,
                1 - 0.6 * free,
            )

    def _sway(self, i, t):
        return float(np.sin(2 * np.pi * self._rate[i] * t + self._phase[i]))

    def stack_height(self, t):
        """Height (m) of the load above its rest at t (s); held off the stack between repetitions."""
        lift = self.station.ends[1]
        travel = STACK_TRAVEL_M * (self.timeline.drive(t) - self.rest_deg) / (lift - self.rest_deg)
        return max(HELD_M * self._held(t), travel)

    def _held(self, t):
        """1 while the load hangs on the lifter, 0 while it may lie on the stack, smooth between."""
        reps, held = self.timeline.reps, 0.0
        for rep, after in zip(reps, (*reps[1:], None)[: len(reps)], strict=True):
            if t < rep.lift.start_s:
                break
            lies = after is None or rep.spec.rest_on_stack
            came_from_rest = rep.number == 1 or reps[rep.number - 2].spec.rest_on_stack
            held = float(smooth(2 * (t - rep.lift.start_s) / rep.spec.lift_s)) if came_from_rest else 1.0
            if lies and t > rep.lower.start_s:
                held = 1 - float(smooth((t - rep.lower.start_s) / rep.spec.lower_s))
        return held

    def stack_rests(self):
        """Times (start, end) in seconds when the load lies on the stack, inside the set too."""
        if self.control:
            return [(0.0, self.timeline.duration_s)]
        marks = [(0.0, self.timeline.first_s)]
        for rep, after in zip(self.timeline.reps, (*self.timeline.reps[1:], None), strict=True):
            if after is None or rep.spec.rest_on_stack:
                marks.append((rep.lower.end_s, after.lift.start_s if after else self.timeline.duration_s))
        return marks


def _usual_ends(scenario):
    down, lift = DEFAULT_ENDS[scenario.exercise]
    plan = scenario.set
    if scenario.exercise in CONTROLS:
        return 90.0, 120.0
    return (
        plan.load_down_end_deg if plan.load_down_end_deg is not None else down,
        plan.lift_end_deg if plan.lift_end_deg is not None else lift,
    )


def _far_side(camera):
    """The lifter's side away from the camera ('.L' or '.R'); the right when it stands straight on."""
    left_near = camera.view == "side-left" or (camera.view in ("front", "rear") and camera.yaw_deg >= 0)
    return ".R" if left_near else ".L"
