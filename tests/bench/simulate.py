"""Command: python -m tests.bench.simulate FILE.npz [--count N]: joints of sets that were never drawn.

The renderer's motion and camera without its pictures.

Bodies are those of the bench's tuning part, varied in height and build; none of the validation part
is used. Exact joints in pixels with the exact drive, at a hundredth of the cost of a rendered clip.
"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from sample_clips.rendering import make_bench
from sample_clips.rendering.angles import JOINT_NAMES, angle_arrays, drive_angle, joints
from sample_clips.rendering.body import make_body
from sample_clips.rendering.camera import look_at
from sample_clips.rendering.motion import Motion
from sample_clips.rendering.rig import Rig
from sample_clips.rendering.scenario import DEFAULT_ENDS, SETS, parse_scenario
from tests.bench.simulated import SimulatedSet, save_sets

BODIES = tomllib.loads((Path(make_bench.__file__).parent / "bench_bodies.toml").read_text())["tune"]
MOMENTS = 120
VIEWS = {
    "chest-fly": ("front",),
    "reverse-fly": ("rear", "front"),
    "shoulder-press": ("side-left", "side-right", "front"),
}


def simulate(exercise: str, count: int, seed: int) -> Iterator[SimulatedSet]:
    """``count`` sets of an exercise with varied bodies, cameras, arm paths, ranges and postures."""
    rng = np.random.default_rng([seed, sorted(DEFAULT_ENDS).index(exercise)])
    views = VIEWS.get(exercise, ("side-left", "side-right"))
    for i in range(count):
        yield _one(exercise, views[i % len(views)], rng)


def _one(exercise: str, view: str, rng: np.random.Generator) -> SimulatedSet:
    scenario = parse_scenario(_raw(exercise, view, rng), "simulated")
    rig = Rig(make_body(scenario.body))
    motion = Motion(scenario, rig)
    camera = look_at(view, np.array([0.0, -0.30, 0.95]), scenario.camera)
    near = "left" if camera.position[0] > 0 else "right"
    first, last = motion.timeline.reps[0].lift.bounds()[0], motion.timeline.reps[-1].lower.bounds()[1]
    places = []
    for moment in np.sort(rng.uniform(first, last, MOMENTS)):
        pose, _ = motion.pose(float(moment))
        _, centres = rig.solve(pose)
        places.append(joints(rig.body, centres, {}))
    places = np.array(places)
    angles = angle_arrays(places)
    drive = drive_angle(exercise, angles, near, motion.station.arm_pads)
    pixels = np.stack([camera.project(p) for p in places])
    return SimulatedSet(exercise, view, scenario.camera.yaw_deg, near, JOINT_NAMES, pixels, drive)


def _raw(exercise: str, view: str, rng: np.random.Generator) -> dict:
    body = dict(BODIES[rng.choice(list(BODIES))])
    body["height_cm"] = float(body["height_cm"] + rng.normal(0, 5))
    body["build"] = float(np.clip(body.get("build", 0.5) + rng.normal(0, 0.08), 0.2, 0.8))
    down, lift = DEFAULT_ENDS[exercise]
    sign = 1.0 if lift > down else -1.0
    down, lift = down - sign * rng.uniform(-14, 8), lift + sign * rng.uniform(-12, 8)
    plan = {"reps": 6, "seed": int(rng.integers(1_000_000)), "get_in_s": 1.0, "get_out_s": 1.0}
    plan |= {"lift_end_deg": float(lift), "load_down_end_deg": float(down), "lift_s": 1.2, "lower_s": 1.2}
    camera = {"view": view, "yaw_deg": float(rng.uniform(-32, 32)), "height_m": float(rng.uniform(0.8, 1.6))}
    camera |= {"distance_m": float(rng.uniform(2.6, 4.2)), "fov_deg": float(rng.uniform(45, 66))}
    camera |= {"roll_deg": float(rng.normal(0, 1.5)), "aim_up_m": float(rng.uniform(-0.08, 0.15))}
    machine = (
        {}
        if exercise.startswith("leg") or exercise.endswith("fly")
        else {"arms_out": float(rng.uniform(0, 0.6))}
    )
    return {
        "exercise": exercise,
        "body": body,
        "camera": camera,
        "set": plan,
        "machine": machine,
        "rep": {str(n): _fault(exercise, sign, rng) for n in (2, 3, 4, 5)},
    }


def _fault(exercise: str, sign: float, rng: np.random.Generator) -> dict[str, float]:
    """One repetition's deviations: a locked-out end, a short one, a trunk that moves."""
    straight = {
        "leg-extension": "lift_end_deg",
        "leg-curl": "load_down_end_deg",
        "lat-pulldown": "load_down_end_deg",
    }
    end = straight.get(exercise, "lift_end_deg")
    out: dict[str, float] = {}
    kind = rng.integers(4)
    if kind == 0 and not exercise.endswith("fly"):
        out[end] = float(rng.uniform(168, 184 if exercise.startswith("leg") else 178.5))
    elif kind == 1:
        out["trunk_pitch_deg"] = float(rng.uniform(-15, 15))
    elif kind == 2 and exercise.startswith("leg"):
        out["hip_forward_cm"] = float(rng.uniform(0, 8))
    return out


def main() -> None:
    """Simulate sets of every exercise and write them to one file."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.simulate", description=__doc__)
    parser.add_argument("file", type=Path)
    parser.add_argument("--count", type=int, default=60, help="sets an exercise")
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    save_sets((s for exercise in SETS for s in simulate(exercise, chosen.count, chosen.seed)), chosen.file)


if __name__ == "__main__":
    main()
