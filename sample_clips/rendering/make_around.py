"""Writes sets with much going on about them: ways in and out, mirrors, people and posts before the lens.

python -m sample_clips.rendering.make_around --out FOLDER [--each 3]

People, tempo and faults are drawn like those of ``make_varied``, but are others; what this adds is drawn too.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn, make_varied
from sample_clips.rendering.aside import KINDS
from sample_clips.rendering.make_bench import toml_table

#: Other people than those of ``make_varied``, whose numbers begin at 1.
FIRST_NUMBER = 500
SOFTNESS = ((1.6, 2.1), (1.3, 1.3), (2.6, 2.6), (1.2, 2.8), (2.8, 1.2))
#: The share of sets that have each: a mirror; something that hides a limb; somebody who walks by close to the
#: lens; the lifter small in a wide picture; a wiped face in the middle; a sticking point.
MIRROR, HIDING, CLOSE, SMALL, WIPED, STICKING = 0.3, 0.25, 0.35, 0.3, 0.45, 0.25


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    number += FIRST_NUMBER
    tables, faults, company = make_varied.scenario_tables(exercise, number)
    rng = np.random.default_rng([number, len(exercise), 31])
    plan, camera, machine = tables["set"], tables["camera"], tables["machine"]
    plan |= {
        "before": str(rng.choice(["", *KINDS])), "after": str(rng.choice(["", *KINDS])),
        "get_in_s": drawn.between(rng, 2.5, 6.0), "get_out_s": drawn.between(rng, 2.0, 5.0),
        "softness": list(SOFTNESS[rng.integers(len(SOFTNESS))]),
    }  # fmt: skip
    if rng.random() < MIRROR:
        machine["mirror_m"] = drawn.between(rng, 1.0, 1.8)
    if rng.random() < HIDING:
        machine["occluder"] = "plate" if exercise.startswith("leg") else "post"
    if rng.random() < SMALL:
        camera |= {"width": 854, "height": 480, "distance_m": round(camera["distance_m"] * 1.35, 2)}
    if rng.random() < CLOSE:
        company = close_by(rng, camera)
    _between(rng, exercise, plan["reps"], faults)
    return "# Written by sample_clips/rendering/make_around.py; everything drawn at random.\n" + (
        make_varied.joined(exercise, tables, faults, company, condition="around")
    )


def _between(rng, exercise, reps, faults):
    """Put a wiped face into the middle of some sets, and a sticking point into others."""
    if rng.random() < WIPED:
        rest = {"rest_s": drawn.between(rng, 2.2, 3.5), "then": "wipe", "rest_on_stack": True}
        faults.setdefault(int(rng.integers(2, reps)), {}).update(rest)
    if rng.random() < STICKING:
        for rep in range(1, reps + 1):
            faults.setdefault(rep, {})["sticking"] = 0.75


def close_by(rng, camera):
    """Somebody who walks through between the camera and the machine, half a metre to one before the lens."""
    way = {"side-left": (1, 0), "side-right": (-1, 0), "front": (0, -1), "rear": (0, 1)}[camera["view"]]
    towards, across = np.array(way, float), np.array([way[1], way[0]], float)
    place = towards * (camera["distance_m"] - rng.uniform(0.9, 1.6)) - across * 2.5
    walk = across * rng.uniform(0.8, 1.5)
    somebody = {
        "kind": "passer-by", "place": [round(float(v), 2) for v in place],
        "walk": [round(float(v), 2) for v in walk], "start_s": drawn.between(rng, 5, 15),
    }  # fmt: skip
    return toml_table("people", somebody).replace("[people]", "[[people]]")


if __name__ == "__main__":
    drawn.write_sets("around", scenario_text, each=3, about=__doc__)
