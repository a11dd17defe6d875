"""Writes sets drawn wider than any that was learnt from: bodies, cameras, pictures, tempo and arm paths.

python -m sample_clips.rendering.make_beyond --out FOLDER [--each 3]

To measure on alone, and to see where what was learnt ends. Faults and company are drawn like those of
``make_varied``; light, lens, height and roll of the camera reach beyond what it draws.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn, make_around, make_varied
from sample_clips.rendering.aside import KINDS
from sample_clips.rendering.make_bench import FLIES
from sample_clips.rendering.scenario import SETS

#: Other people than those of ``make_varied`` and of the other files of its kind.
FIRST_NUMBER = 2600
#: The share of sets that have each: a mirror; something that hides a limb; somebody close to the lens.
MIRROR, HIDING, CLOSE = 0.25, 0.25, 0.3


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    drawn_as = number + FIRST_NUMBER
    tables, faults, company = make_varied.scenario_tables(exercise, drawn_as)
    rng = np.random.default_rng([drawn_as, SETS.index(exercise), 5])
    tables["body"] |= _body(rng, number)
    tables["camera"] |= _camera(rng, exercise)
    tables["video"] |= _video(rng)
    tables["set"] |= _plan(rng)
    machine = tables["machine"]
    if "elbow_turn_deg" in machine:
        machine |= {
            "elbow_turn_deg": drawn.between(rng, -30.0, 30.0),
            "arms_out": drawn.between(rng, 0.0, 0.8),
            "hands_turn_deg": [drawn.between(rng, -16.0, 16.0), drawn.between(rng, -8.0, 12.0)],
        }
    faults = {rep: table for rep, table in faults.items() if rep <= tables["set"]["reps"]}
    if rng.random() < MIRROR:
        machine["mirror_m"] = drawn.between(rng, 1.0, 1.8)
    if rng.random() < HIDING:
        machine["occluder"] = "plate" if exercise.startswith("leg") else "post"
    if rng.random() < CLOSE:
        company = make_around.close_by(rng, tables["camera"])
    return "# Written by sample_clips/rendering/make_beyond.py; everything drawn at random.\n" + (
        make_varied.joined(exercise, tables, faults, company, condition="beyond", part="validate")
    )


def _body(rng, number):
    return {
        "build": drawn.between(rng, 0.05, 1.0),
        "muscle": drawn.between(rng, 0.1, 1.0),
        "proportions": drawn.between(rng, 0.05, 1.0),
        "age": int(rng.integers(16, 88)),
        "height_cm": round(rng.uniform(145, 203) + number / 1000, 3),
        "cloth_mm": drawn.between(rng, 4.0, 24.0),
    }


def _camera(rng, exercise):
    fov = drawn.between(rng, 40.0, 82.0)
    wide = (3.9 if exercise in FLIES else 3.4) * rng.uniform(0.85, 1.35)
    return {
        "yaw_deg": drawn.between(rng, -24.0, 24.0),
        "height_m": drawn.between(rng, 0.35, 2.1),
        "roll_deg": drawn.between(rng, -7.0, 7.0),
        "fov_deg": fov,
        "distance_m": round(float(wide * np.tan(np.radians(25)) / np.tan(np.radians(fov / 2))), 2),
        "shake_deg": float(rng.choice([0.0, 0.0, 0.0, 0.4, 0.8])),
        "aim_up_m": drawn.between(rng, -0.05, 0.12),
    }


def _video(rng):
    return {
        "fps": int(rng.choice([24, 25, 30, 30, 50, 60])),
        "crf": int(rng.integers(24, 37)),
        "noise": drawn.between(rng, 0.5, 9.0),
        "blur_px": float(rng.choice([0.0, 0.0, 0.8, 1.5])),
        "light": drawn.between(rng, 0.4, 1.6),
    }


def _plan(rng):
    softness = rng.uniform(1.1, 3.0, 2)
    return {
        "lift_s": drawn.between(rng, 0.9, 3.8),
        "lower_s": drawn.between(rng, 1.1, 5.0),
        "hold_s": drawn.between(rng, 0.0, 1.6),
        "rest_s": drawn.between(rng, 0.05, 1.4),
        "softness": [round(float(part), 2) for part in softness],
        "vary": drawn.between(rng, 0.02, 0.2),
        "vary_deg": drawn.between(rng, 0.5, 4.5),
        "reps": int(rng.integers(5, 9)),
        "before": str(rng.choice(["", *KINDS])),
        "after": str(rng.choice(["", *KINDS])),
        "get_in_s": drawn.between(rng, 0.5, 6.0),
        "get_out_s": drawn.between(rng, 0.3, 5.0),
    }


if __name__ == "__main__":
    drawn.write_sets("beyond", scenario_text, each=3, about=__doc__)
