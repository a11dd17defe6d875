"""Writes short sets of very many bodies, arm paths and cameras, to learn the drive's angle from.

python -m sample_clips.rendering.make_wide --out FOLDER [--each 40]

The bench has few people, who all move their arms on one path: what is learnt from it alone does not carry
to others. Here nearly every number is drawn anew for every clip, and each repetition ends elsewhere. The
motion is quick, since only single moments are learnt from; the same numbers give the same files.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from sample_clips.rendering.make_bench import FLIES, toml_table
from sample_clips.rendering.scenario import DEFAULT_ENDS, SETS
from sample_clips.rendering.wardrobe import COLOURS, SKIN_TONES

REPS = 4
#: Degrees at either end that a repetition's own end is drawn from; beyond straight nobody goes.
END_DEG = (-16.0, 16.0)
STRAIGHT_DEG = 179.0
VIEWS = {"chest-fly": ("front",), "reverse-fly": ("front", "rear")}
VIEWS |= {"shoulder-press": ("side-left", "side-right", "front")}
SIDES = ("side-left", "side-right")


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    rng = np.random.default_rng([SETS.index(exercise), number, 2026])
    views = VIEWS.get(exercise, SIDES)
    top = {"exercise": exercise, "run_as": exercise, "part": "tune", "fit": True, "conditions": ["wide"]}
    tables = {
        "body": _body(rng, number),
        "camera": _camera(rng, views[number % len(views)], exercise),
        "video": {
            "fps": 20,
            "crf": int(rng.integers(22, 32)),
            "noise": _of(rng, 0.5, 4.0),
            "light": _of(rng, 0.55, 1.35),
        },
        "set": _plan(rng, exercise, number),
        "machine": _machine(rng, exercise),
    }
    text = toml_table("", top) + "".join(toml_table(name, table) for name, table in tables.items())
    elbow = rng.uniform(120.0, 170.0)
    ends = "".join(toml_table(f"rep.{rep}", _rep(rng, exercise, elbow)) for rep in range(1, REPS + 1))
    return "# Written by sample_clips/rendering/make_wide.py; everything drawn at random.\n" + text + ends


def _of(rng, low, high):
    return round(float(rng.uniform(low, high)), 2)


def _body(rng, number):
    # The stature is a body's name in what is learnt: no two are alike.
    return {
        "height_cm": round(float(rng.uniform(150, 197)) + number / 1000, 3),
        "gender": _of(rng, 0.0, 1.0),
        "age": int(rng.integers(18, 82)),
        "build": _of(rng, 0.3, 0.85),
        "muscle": _of(rng, 0.3, 0.9),
        "proportions": _of(rng, 0.25, 0.9),
        "skin": str(rng.choice(list(SKIN_TONES))),
        "hair": str(rng.choice(["black", "brown", "blond", "grey", "red", "bald"])),
        "long_hair": bool(rng.random() < 0.3),
        "shirt": str(rng.choice(list(COLOURS))),
        "shorts": str(rng.choice(list(COLOURS))),
        "sleeve": _of(rng, 0.1, 1.9),
        "leg_cover": _of(rng, 0.5, 1.95),
        "cloth_mm": _of(rng, 4.0, 16.0),
    }


def _camera(rng, view, exercise):
    fov = _of(rng, 42, 72)
    wide = (3.9 if exercise in FLIES else 3.4) * rng.uniform(0.85, 1.25)
    return {
        "view": view,
        "yaw_deg": round(float(np.clip(rng.normal(0, 15), -32, 32)), 1),
        "height_m": _of(rng, 0.5, 1.75),
        "distance_m": round(float(wide * np.tan(np.radians(25)) / np.tan(np.radians(fov / 2))), 2),
        "fov_deg": fov,
        "roll_deg": _of(rng, -3.0, 3.0),
        "aim_up_m": _of(rng, -0.05, 0.12),
    }


def _plan(rng, exercise, number):
    lean = {"lat-pulldown": -8.0, "reverse-fly": 5.0, "leg-extension": -12.0, "leg-curl": -12.0}
    return {
        "reps": REPS,
        "lift_s": 0.8,
        "hold_s": 0.35,
        "lower_s": 0.9,
        "rest_s": 0.35,
        "trunk_deg": round(float(lean.get(exercise, -7.5) + rng.uniform(-9, 9)), 1),
        "get_in_s": 1.2,
        "get_out_s": 0.8,
        "seed": 5000 + number,
    }


def _machine(rng, exercise):
    colour = str(rng.choice(["grey", "white", "black", "red", "yellow", "blue"]))
    if exercise.startswith("leg"):
        return {"colour": colour, "lever_side": str(rng.choice(["near", "far"]))}
    if exercise in FLIES:
        return {"colour": colour}
    return {
        "colour": colour,
        "arms_out": _of(rng, 0.0, 0.8),
        "elbow_turn_deg": _of(rng, -30.0, 30.0),
        "hands_turn_deg": [_of(rng, -12.0, 12.0), _of(rng, -6.0, 10.0)],
    }


def _rep(rng, exercise, elbow):
    down, lift = (end + rng.uniform(*END_DEG) for end in DEFAULT_ENDS[exercise])
    rep = {
        "lift_end_deg": round(float(min(lift, STRAIGHT_DEG)), 1),
        "load_down_end_deg": round(float(min(down, STRAIGHT_DEG)), 1),
        "trunk_pitch_deg": _of(rng, -3.0, 6.0),
        "shoulder_raise_cm": _of(rng, 0.0, 3.0),
    }
    if exercise in FLIES:
        rep |= {"elbow_deg": _of(rng, elbow - 6.0, elbow + 6.0), "arm_elevation_deg": _of(rng, -20.0, 10.0)}
    return rep


def main():
    """Write the scenarios of all machines, or of those named."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.rendering.make_wide", description=__doc__)
    parser.add_argument("exercise", nargs="*", default=SETS, help="machines, all if none is named")
    parser.add_argument("--out", required=True, type=Path, help="folder for the scenario files")
    parser.add_argument("--each", type=int, default=40, help="sets a machine")
    chosen = parser.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    for exercise in chosen.exercise:
        for number in range(1, chosen.each + 1):
            path = chosen.out / f"{exercise}-wide-{number:03}.toml"
            path.write_text(scenario_text(exercise, number), encoding="utf-8")


if __name__ == "__main__":
    main()
