"""What a set drawn at random is made of: its person, camera and machine, as tables of a scenario file.

``make_wide`` and ``make_varied`` write such sets. Each table is drawn from the generator it is given, so that
a set is always the same as long as they are drawn in the same order.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from sample_clips.rendering.make_bench import FLIES
from sample_clips.rendering.scenario import SETS
from sample_clips.rendering.wardrobe import COLOURS, SKIN_TONES

VIEWS = {"chest-fly": ("front",), "reverse-fly": ("front", "rear")}
VIEWS |= {"shoulder-press": ("side-left", "side-right", "front")}
SIDES = ("side-left", "side-right")


def view_of(exercise, number):
    """The view that a set is filmed from."""
    views = VIEWS.get(exercise, SIDES)
    return views[number % len(views)]


def between(rng, low, high):
    """A number from low to high, to two places."""
    return round(float(rng.uniform(low, high)), 2)


def body(rng, number):
    """Table of one person."""
    # The stature is a body's name in what is learnt: no two are alike.
    return {
        "height_cm": round(float(rng.uniform(150, 197)) + number / 1000, 3),
        "gender": between(rng, 0.0, 1.0),
        "age": int(rng.integers(18, 82)),
        "build": between(rng, 0.3, 0.85),
        "muscle": between(rng, 0.3, 0.9),
        "proportions": between(rng, 0.25, 0.9),
        "skin": str(rng.choice(list(SKIN_TONES))),
        "hair": str(rng.choice(["black", "brown", "blond", "grey", "red", "bald"])),
        "long_hair": bool(rng.random() < 0.3),
        "shirt": str(rng.choice(list(COLOURS))),
        "shorts": str(rng.choice(list(COLOURS))),
        "sleeve": between(rng, 0.1, 1.9),
        "leg_cover": between(rng, 0.5, 1.95),
        "cloth_mm": between(rng, 4.0, 16.0),
    }


def camera(rng, view, exercise):
    """Table of one camera, so far away that the whole machine is in the picture."""
    fov = between(rng, 42, 72)
    wide = (3.9 if exercise in FLIES else 3.4) * rng.uniform(0.85, 1.25)
    return {
        "view": view,
        "yaw_deg": round(float(np.clip(rng.normal(0, 15), -32, 32)), 1),
        "height_m": between(rng, 0.5, 1.75),
        "distance_m": round(float(wide * np.tan(np.radians(25)) / np.tan(np.radians(fov / 2))), 2),
        "fov_deg": fov,
        "roll_deg": between(rng, -3.0, 3.0),
        "aim_up_m": between(rng, -0.05, 0.12),
    }


def machine(rng, exercise):
    """Table of one machine: its colour and the way of its handles."""
    colour = str(rng.choice(["grey", "white", "black", "red", "yellow", "blue"]))
    if exercise.startswith("leg"):
        return {"colour": colour, "lever_side": str(rng.choice(["near", "far"]))}
    if exercise in FLIES:
        return {"colour": colour}
    return {
        "colour": colour,
        "arms_out": between(rng, 0.0, 0.8),
        "elbow_turn_deg": between(rng, -30.0, 30.0),
        "hands_turn_deg": [between(rng, -12.0, 12.0), between(rng, -6.0, 10.0)],
    }


def way(rng, exercise):
    """The straight way of a machine's handles, see ``MachineSpec``; of presses and pulldowns."""
    if exercise == "lat-pulldown":
        out = between(rng, 0.0, 0.42)
        lift = _reached(rng, 0.61, out, up=(0.1, 0.35))
        # Further down than where the hands come nearest to the shoulders the elbows would open again.
        least = (0.61**2 - out**2 - 0.92 * lift[2]) / lift[1]
        ahead = between(rng, max(0.05, least), max(0.3, least + 0.05))
        return [*_reached(rng, 0.985, out, (ahead, ahead)), *lift]
    if exercise == "chest-press":
        out, low = between(rng, 0.1, 0.4), between(rng, -0.35, -0.05)
        down = _reached(rng, 0.64, out, up=(low, low))
        return [*down, *_reached(rng, 0.989, between(rng, out - 0.3, out), up=(low - 0.05, low + 0.2))]
    down = _reached(rng, 0.588, between(rng, 0.15, 0.42), (0.05, 0.3))
    return [*down, *_reached(rng, 0.986, between(rng, 0.0, 0.3), (-0.05, 0.25))]


def _reached(rng, far, out, ahead=None, up=None):
    """Out, ahead and up of a place so far from the shoulder; what is not drawn follows."""
    drawn_one = between(rng, *(ahead or up))
    other = round(float(np.sqrt(max(far**2 - out**2 - drawn_one**2, 0.01))), 3)
    return [out, drawn_one, other] if ahead else [out, other, drawn_one]


def trunk_deg(rng, exercise):
    """How far the trunk leans, degrees from upright, on that machine."""
    lean = {"lat-pulldown": -8.0, "reverse-fly": 5.0, "leg-extension": -12.0, "leg-curl": -12.0}
    return round(float(lean.get(exercise, -7.5) + rng.uniform(-9, 9)), 1)


def write_sets(kind, scenario_text, each, about, machines=SETS):
    """Write the scenarios of all of these machines, or of those named on the command line.

    kind: the word in the files' names; scenario_text: (exercise, number) to TOML text; each: how many sets a
    machine by default; about: the command's description.
    """
    parser = argparse.ArgumentParser(prog=f"python -m sample_clips.rendering.make_{kind}", description=about)
    parser.add_argument("exercise", nargs="*", default=machines, help="machines, all if none is named")
    parser.add_argument("--out", required=True, type=Path, help="folder for the scenario files")
    parser.add_argument("--each", type=int, default=each, help="sets a machine")
    chosen = parser.parse_args()
    chosen.out.mkdir(parents=True, exist_ok=True)
    for exercise in chosen.exercise:
        for number in range(1, chosen.each + 1):
            path = chosen.out / f"{exercise}-{kind}-{number:03}.toml"
            path.write_text(scenario_text(exercise, number), encoding="utf-8")
