"""Writes short sets of very many bodies, arm paths and cameras, to learn the drive's angle from.

python -m sample_clips.rendering.make_wide --out FOLDER [--each 40]

The bench has few people, who all move their arms on one path: what is learnt from it alone does not carry
to others. Here nearly every number is drawn anew for every clip; each repetition ends elsewhere, and in some
of a fly's the elbows are bent further. The motion is quick, since only single moments are learnt from; the
same numbers give the same files.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn
from sample_clips.rendering.make_bench import FLIES, toml_table
from sample_clips.rendering.scenario import DEFAULT_ENDS, SETS

REPS = 4
SET = {
    "reps": REPS,
    "lift_s": 0.8,
    "hold_s": 0.35,
    "lower_s": 0.9,
    "rest_s": 0.35,
    "get_in_s": 1.2,
    "get_out_s": 0.8,
}
#: Degrees at either end that a repetition's own end is drawn from; beyond straight nobody goes.
END_DEG = (-16.0, 16.0)
STRAIGHT_DEG = 179.0


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    rng = np.random.default_rng([SETS.index(exercise), number, 2026])
    top = {"exercise": exercise, "run_as": exercise, "part": "tune", "fit": True, "conditions": ["wide"]}
    tables = {
        "body": drawn.body(rng, number),
        "camera": drawn.camera(rng, drawn.view_of(exercise, number), exercise),
        "video": {
            "fps": 20,
            "crf": int(rng.integers(22, 32)),
            "noise": drawn.between(rng, 0.5, 4.0),
            "light": drawn.between(rng, 0.55, 1.35),
        },
        "set": SET | {"trunk_deg": drawn.trunk_deg(rng, exercise), "seed": 5000 + number},
        "machine": drawn.machine(rng, exercise),
    }
    text = toml_table("", top) + "".join(toml_table(name, table) for name, table in tables.items())
    elbow = rng.uniform(120.0, 170.0)
    ends = "".join(toml_table(f"rep.{rep}", one_rep(rng, exercise, elbow)) for rep in range(1, REPS + 1))
    return "# Written by sample_clips/rendering/make_wide.py; everything drawn at random.\n" + text + ends


def one_rep(rng, exercise, elbow=0.0):
    """Table of a repetition that ends somewhere about the usual ends; elbow: the usual one of a fly."""
    down, lift = (end + rng.uniform(*END_DEG) for end in DEFAULT_ENDS[exercise])
    rep = {
        "lift_end_deg": round(float(min(lift, STRAIGHT_DEG)), 1),
        "load_down_end_deg": round(float(min(down, STRAIGHT_DEG)), 1),
        "trunk_pitch_deg": drawn.between(rng, -3.0, 6.0),
        "shoulder_raise_cm": drawn.between(rng, 0.0, 3.0),
    }
    if exercise in FLIES:
        rep |= {
            "elbow_deg": round(drawn.between(rng, elbow - 6.0, elbow + 6.0) - _bent(rng), 2),
            "arm_elevation_deg": drawn.between(rng, -20.0, 10.0),
        }
    return rep


def _bent(rng):
    """Degrees by which the elbows are bent further in this repetition: in two of five."""
    return drawn.between(rng, 15.0, 60.0) if rng.random() < 0.4 else 0.0


if __name__ == "__main__":
    drawn.write_sets("wide", scenario_text, each=40, about=__doc__)
