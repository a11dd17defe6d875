"""Writes the 243 bench scenarios; the same ones every time.

python -m sample_clips.rendering.make_bench [--out sample_clips/bench]

Thirty-three an exercise: 01 to 10, 21 to 23 and 27 to 31 to tune on, the others to
validate on; of the flies six more from the side, 34 to 37 to tune and 38 and 39 to
validate on. The two parts share no body and no camera placing.
"""

from __future__ import annotations

import argparse
import tomllib
from pathlib import Path

import numpy as np

from sample_clips.rendering import bench_faults
from sample_clips.rendering.scenario import SETS

BODIES = tomllib.loads((Path(__file__).parent / "bench_bodies.toml").read_text(encoding="utf-8"))
FLIES = ("chest-fly", "reverse-fly")
YAW = {1: 0, 2: 15, 3: 8, 4: 0, 5: 15, 6: 0, 7: 8, 8: 15, 9: 30}
YAW |= {10: 0, 11: 8, 12: 0, 13: 15, 14: 0, 15: 8, 16: 15, 17: 15, 18: 8}
YAW |= {19: 8, 20: 0, 21: 15, 22: 15, 23: 8, 24: 15}
NUMBERS = range(1, 34)
FLY_NUMBERS = range(1, 40)
#: The flies are filmed from the side from this place on.
FLY_SIDE = 19
#: First number of each run of scenarios: its part, and what the number is more than the place there.
RUNS = {1: ("tune", 0), 11: ("validate", 10), 21: ("tune", 10), 24: ("validate", 13)}
RUNS |= {27: ("tune", 13), 32: ("validate", 18), 34: ("tune", 15), 38: ("validate", 15)}
UNFIT = {
    "tune": {
        ("leg-extension", 10): "too-dark",
        ("leg-curl", 10): "low-frame-rate",
        ("leg-curl", 2): "no-person",
        ("lat-pulldown", 10): "limb-out-of-picture",
        ("chest-fly", 10): "too-blurred",
        ("reverse-fly", 10): "wrong-view",
        ("chest-press", 10): "limb-hidden",
        ("chest-press", 2): "no-set",
        ("shoulder-press", 10): "too-short",
    },
    "validate": {
        ("leg-extension", 10): "limb-out-of-picture",
        ("leg-curl", 10): "wrong-view",
        ("leg-curl", 2): "no-person",
        ("lat-pulldown", 10): "too-dark",
        ("chest-fly", 10): "low-frame-rate",
        ("reverse-fly", 10): "too-blurred",
        ("chest-press", 10): "limb-hidden",
        ("chest-press", 2): "no-set",
        ("shoulder-press", 10): "too-short",
    },
}
SHORT = (11, 13, 15)


def view_of(exercise, place):
    """Camera view of the place-th scenario of a part."""
    if exercise in FLIES and place < FLY_SIDE:
        return "front" if exercise == "chest-fly" else "rear"
    if exercise == "shoulder-press" and place in (2, 4, 6, 8):
        return "front"
    return "side-left" if place % 4 in (1, 2) else "side-right"


def part_and_place(number):
    """Part of scenario `number` and its place (1 to 24) there."""
    part, before = RUNS[max(first for first in RUNS if first <= number)]
    return part, number - before


def numbers_of(exercise):
    """The scenarios of an exercise."""
    return FLY_NUMBERS if exercise in FLIES else NUMBERS


def scenario_text(exercise, number):
    """TOML text of scenario `number` (1 to 39) of an exercise."""
    part, place = part_and_place(number)
    bodies = BODIES[part]
    turn = SETS.index(exercise)
    rng = np.random.default_rng([turn, number])
    name = list(bodies)[(place + turn) % len(bodies)]
    unfit = UNFIT[part].get((exercise, place))
    kind = {"no-set": "none-fidget", "no-person": "none-passing"}.get(unfit, exercise)
    view = view_of(exercise, place)
    tables = {
        "camera": _camera(exercise, part, place, view, rng),
        "video": _video(place, rng),
        "set": _plan(exercise, part, place, number, rng),
        "machine": _machine(exercise, place, number),
    }
    tags = _tags(place, exercise, view, tables)
    people = _people(part, place, view, tables)
    faults = {} if unfit or place <= 2 else bench_faults.for_clip(exercise, part, place, view, rng)
    if unfit:
        people = _spoil(unfit, exercise, tables, people)
        tags = [unfit]
    head = _head(part, exercise, number, name, unfit, faults)
    top = {"exercise": kind, "run_as": exercise, "part": part, "fit": unfit is None, "conditions": tags}
    if unfit:
        top["problems"] = [unfit]
    if number in SHORT:
        top["short"] = True
    text = head + toml_table("", top) + toml_table("body", bodies[name])
    text += "".join(toml_table(key, table) for key, table in tables.items() if table)
    text += "".join(toml_table(f"rep.{rep}", table) for rep, table in sorted(faults.items()))
    return text + "".join(_person_text(person, bodies, name, i) for i, person in enumerate(people))


def _head(part, exercise, number, name, unfit, faults):
    by = "Written by sample_clips/rendering/make_bench.py."
    lines = [f"# Bench scenario {number} of {exercise}; body: {name}. {by}"]
    lines.append(
        "# VALIDATION PART: nobody tunes on this clip; it only measures."
        if part == "validate"
        else "# Tuning part: thresholds and corrections may be fitted to this clip."
    )
    if unfit:
        lines.append(f"# Not fit to judge: {unfit}.")
    elif not faults:
        lines.append("# Good repetitions throughout.")
    return "\n".join(lines) + "\n"


def _camera(exercise, part, place, view, rng):
    lens = (50, 58, 64) if part == "tune" else (47, 55, 61)
    fov = lens[place % 3]
    wide = 3.9 if exercise in FLIES else 3.4
    distance = wide * np.tan(np.radians(25)) / np.tan(np.radians(fov / 2)) * rng.uniform(0.95, 1.08)
    sign = -1 if place % 3 == 1 else 1
    camera = {
        "view": view,
        "yaw_deg": float(sign * YAW[place] + round(rng.uniform(-2, 2), 1)),
        "height_m": round(rng.uniform(0.85, 1.45) + (0.05 if part == "tune" else 0.0), 2),
        "distance_m": round(float(distance), 2),
        "fov_deg": fov,
        "roll_deg": round(rng.uniform(-2, 2), 1),
        "aim_up_m": round(rng.uniform(-0.05, 0.12), 2),
    }
    if place in (5, 9):
        camera |= {"width": 854, "height": 480, "distance_m": round(float(distance) * 1.05, 2)}
        camera["fov_deg"] = fov + 12
    if place == 4:
        camera["shake_deg"] = 0.35
    return camera


def _video(place, rng):
    video = {
        "fps": {3: 25, 5: 24, 7: 60, 13: 50}.get(place, 30),
        "crf": int(rng.integers(24, 30)),
        "noise": round(float(rng.uniform(0.5, 2)), 1),
    }
    video |= {
        5: {"noise": 9.0},
        6: {"jitter": 0.6},
        7: {"light": 0.45},
        8: {"rotation_deg": 90},
        9: {"crf": 34},
        3: {"light": 1.35},
        2: {"audio": True},
    }.get(place, {})
    return video


def _plan(exercise, part, place, number, rng):
    quick = rng.uniform(0.9, 1.1) * (1.0 if part == "tune" else 1.05)
    plan = {
        "reps": 8 if place < 10 else 5,
        "lift_s": round(1.4 * quick, 2),
        "hold_s": round(rng.uniform(0.15, 0.5), 2),
        "lower_s": round(1.7 * quick, 2),
        "rest_s": round(rng.uniform(0.2, 0.5), 2),
        "get_in_s": round(rng.uniform(2.2, 4.0), 1),
        "get_out_s": round(rng.uniform(1.5, 3.0), 1),
        "seed": 1000 + SETS.index(exercise) * 50 + number,
    }
    if place == 6:
        plan["vary"] = 0.12
    plan |= bench_faults.of_set(exercise, place, rng)
    if exercise == "leg-curl":
        plan |= {"lift_end_deg": 93.0, "load_down_end_deg": 164.0}
    if exercise == "leg-extension" and place in (4, 7):
        plan |= {"lift_end_deg": 161.0, "load_down_end_deg": 109.0}
    return plan


def _machine(exercise, place, number):
    machine = {"colour": ("grey", "white", "black", "red", "yellow", "blue")[number % 6]}
    if exercise.startswith("leg"):
        machine["lever_side"] = "near" if place % 2 else "far"
        machine["pivot_offset_cm"] = ([0.0, 0.0], [4.5, 0.0], [0.0, -4.0], [-5.0, 1.0], [1.5, 1.0])[
            number % 5
        ]
    elif exercise not in FLIES:
        machine["arms_out"] = (0.0, 0.25, 0.1, 0.4)[number % 4]
    if place == 8 and exercise not in FLIES:
        machine["occluder"] = "plate" if exercise.startswith("leg") else "post"
    if exercise == "chest-fly" and place == 2:
        machine["arm_pads"] = True
    return machine


def _tags(place, exercise, view, tables):
    tags = [f"yaw{YAW[place]}"]
    tags += {
        2: ["bystander", "sound"],
        4: ["shake", "passer-by"],
        5: ["noise", "landscape", "24fps"],
        6: ["variable-rate", "trainer"],
        7: ["60fps", "dim"],
        8: ["rotated"],
        9: ["compressed", "landscape"],
        3: ["25fps", "bright"],
    }.get(place, [])
    if "occluder" in tables["machine"]:
        tags.append("occluded")
    return tags


def _people(part, place, view, tables):
    """Others in the picture: place on the floor (m) seen from the view."""
    away = {"side-left": (-1, 0), "side-right": (1, 0), "front": (0, 1), "rear": (0, -1)}[view]
    across = (away[1], -away[0])
    spot = lambda a, b: [round(away[i] * a + across[i] * b, 2) for i in (0, 1)]  # noqa: E731
    far, side = (1.6, 0.75) if part == "tune" else (1.9, -0.8)
    if place == 2:
        return [{"kind": "bystander", "place": spot(far, side), "heading_deg": 70.0}]
    if place == 4:
        start = spot(far, 3.2)
        return [
            {
                "kind": "passer-by",
                "place": start,
                "walk": [round(-0.9 * across[0], 2), round(-0.9 * across[1], 2)],
                "start_s": 9.0,
            }
        ]
    if place == 6:
        return [{"kind": "trainer", "place": spot(0.85, -0.55), "heading_deg": 200.0}]
    return []


def _spoil(unfit, exercise, tables, people):
    """Change the tables so that the clip must be refused; returns the people in it."""
    leg = exercise.startswith("leg")
    camera, video, plan, machine = (tables[k] for k in ("camera", "video", "set", "machine"))
    change = {
        "too-dark": (video, {"light": 0.012, "noise": 4.0}),
        "too-blurred": (video, {"blur_px": 7.0}),
        "low-frame-rate": (video, {"fps": 12 + len(exercise) % 3}),
        "too-short": (plan, {"reps": 1, "get_in_s": 0.5, "get_out_s": 0.3}),
        "limb-out-of-picture": (
            camera,
            {"distance_m": 2.2, "fov_deg": 50, "aim_up_m": 0.55 if leg else -0.55},
        ),
        "limb-hidden": (machine, {"occluder": "screen" if leg else "arm-screen"}),
        "wrong-view": (camera, {"view": "front", "yaw_deg": 0.0} if leg else {"yaw_deg": 50.0}),
        "no-set": (plan, {"get_in_s": 9.0, "get_out_s": 9.0, "reps": 1}),
        "no-person": (plan, {"get_in_s": 8.0, "get_out_s": 8.0, "reps": 1}),
    }[unfit]
    change[0].update(change[1])
    if unfit != "no-person":
        return []
    side = -1 if camera["view"] == "side-left" else 1
    return [
        {"kind": "passer-by", "place": [side * 1.5, -3.5], "walk": [0.0, 1.0], "start_s": 1.0},
        {"kind": "passer-by", "place": [side * 2.0, 3.5], "walk": [0.0, -1.1], "start_s": 8.0},
    ]


def _person_text(person, bodies, lifter, i):
    other = [n for n in bodies if n != lifter][(len(lifter) + i) % (len(bodies) - 1)]
    return toml_table("[people]", person) + toml_table("people.body", bodies[other])


def toml_table(name, values):
    """TOML text of one table; the top one where the name is empty."""
    lines = [f"\n[{name}]"] if name else []
    for key, value in values.items():
        shown = {True: "true", False: "false"}.get(value) if isinstance(value, bool) else None
        if shown is None:
            shown = (
                str(value).replace("'", '"')
                if isinstance(value, list)
                else f'"{value}"'
                if isinstance(value, str)
                else repr(value)
            )
        lines.append(f"{key} = {shown}")
    return "\n".join(lines) + "\n"


def main(arguments=None):
    """Write all scenarios below --out."""
    parser = argparse.ArgumentParser(
        prog="python -m sample_clips.rendering.make_bench", description="Write the bench scenarios."
    )
    parser.add_argument("--out", type=Path, default=Path(__file__).parents[1] / "bench")
    out = parser.parse_args(arguments).out
    for exercise in SETS:
        folder = out / exercise
        folder.mkdir(parents=True, exist_ok=True)
        for number in numbers_of(exercise):
            (folder / f"{exercise}-{number:02d}.toml").write_text(
                scenario_text(exercise, number), encoding="utf-8"
            )
    print(f"{sum(len(numbers_of(e)) for e in SETS)} scenarios in {out.name}")


if __name__ == "__main__":
    main()
