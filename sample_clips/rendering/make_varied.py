"""Writes whole sets of people, cameras, tempo, faults and company drawn at random, to measure on.

python -m sample_clips.rendering.make_varied --out FOLDER [--each 5]

Beside the bench, whose people and faults are planned, and beside ``make_wide``, whose quick repetitions only
teach the drive's angle. The same numbers give the same files.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn
from sample_clips.rendering.bench_faults import hard_settings
from sample_clips.rendering.make_bench import toml_table
from sample_clips.rendering.scenario import SETS

_MOST = "chest-drop lean-back too-fast dropped-load short-range hip-slide head-drop"
FAULTS = {
    "leg-extension": f"knee-lockout {_MOST}",
    "leg-curl": f"knee-lockout {_MOST} partial",
    "lat-pulldown": "hands-push-down lean-back elbow-lockout chest-drop head-level shrug too-fast "
    "short-range partial",
    "chest-press": "press-height elbow-lockout hands-behind chest-drop too-fast dropped-load short-range "
    "shrug partial",
    "chest-fly": "elbow-bend arm-level uneven-sides too-fast dropped-load short-range partial",
    "reverse-fly": "past-body too-fast dropped-load short-range shrug partial",
    "shoulder-press": "lean-back elbow-lockout hip-slide shrug dropped-load too-fast short-range "
    "uneven-sides partial",
}
#: Two sets of three have so many faulty repetitions, from the third on; one set of three somebody else about.
FAULTY, FIRST_FAULTY, COMPANY_SHARE, LANDSCAPE_SHARE, JITTER_SHARE = 3, 3, 0.35, 0.25, 0.3


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    text = joined(exercise, *scenario_tables(exercise, number), condition="varied")
    return "# Written by sample_clips/rendering/make_varied.py; everything drawn at random.\n" + text


def scenario_tables(exercise, number):
    """Tables (name to table), faulty repetitions (number to table) and TOML text of the company of a set."""
    rng = np.random.default_rng([SETS.index(exercise), number, 777])
    camera = _camera(rng, drawn.view_of(exercise, number), exercise)
    plan, video = _plan(rng, exercise, number), _video(rng)
    faults = _faults(rng, exercise, plan["reps"]) if number % 3 else {}
    body, machine = drawn.body(rng, number), drawn.machine(rng, exercise)
    tables = {"body": body, "camera": camera, "video": video, "set": plan, "machine": machine}
    return tables, faults, _company(rng)


def joined(exercise, tables, faults, company, condition, part="tune"):
    """TOML text of a scenario; of the part "validate" nobody learns."""
    top = {"exercise": exercise, "run_as": exercise, "part": part, "fit": True, "conditions": [condition]}
    text = toml_table("", top) + "".join(toml_table(name, table) for name, table in tables.items())
    return text + company + "".join(toml_table(f"rep.{rep}", table) for rep, table in faults.items())


def _camera(rng, view, exercise):
    camera = drawn.camera(rng, view, exercise)
    camera["yaw_deg"] = round(float(np.clip(rng.normal(0, 13), -27, 27)), 1)
    camera["shake_deg"] = float(rng.choice([0.0, 0.0, 0.0, 0.4]))
    wide = rng.random() < LANDSCAPE_SHARE
    return camera | ({"width": 854, "height": 480} if wide else {})


def _video(rng):
    video = {
        "fps": int(rng.choice([24, 25, 30, 30, 30])),
        "crf": int(rng.integers(22, 32)),
        "noise": drawn.between(rng, 0.5, 4.0),
        "light": drawn.between(rng, 0.55, 1.35),
    }
    return video | ({"jitter": 0.2} if rng.random() < JITTER_SHARE else {})


def _plan(rng, exercise, number):
    return {
        "trunk_deg": drawn.trunk_deg(rng, exercise),
        "seed": 5000 + number,
        "reps": int(rng.integers(6, 10)),
        "lift_s": drawn.between(rng, 0.9, 2.6),
        "hold_s": drawn.between(rng, 0.0, 0.9),
        "lower_s": drawn.between(rng, 1.2, 3.4),
        "rest_s": drawn.between(rng, 0.1, 0.8),
        "vary": drawn.between(rng, 0.04, 0.12),
        "vary_deg": drawn.between(rng, 0.8, 3.0),
        "get_in_s": drawn.between(rng, 1.2, 5.0),
        "get_out_s": drawn.between(rng, 1.0, 4.0),
        "fidget_deg": drawn.between(rng, 2.0, 8.0),
    }


def _faults(rng, exercise, reps):
    names = [str(rng.choice(FAULTS[exercise].split())) for _ in range(FAULTY)]
    at = sorted(rng.choice(np.arange(FIRST_FAULTY, reps + 1), FAULTY, replace=False))
    return {int(rep): hard_settings(name, exercise, rng) for rep, name in zip(at, names, strict=True)}


def _company(rng):
    if rng.random() >= COMPANY_SHARE:
        return ""
    kind = str(rng.choice(["bystander", "passer-by", "trainer"]))
    place = [drawn.between(rng, -1.6, 1.6), float(rng.choice([-1, 1])) * drawn.between(rng, 1.1, 1.9)]
    somebody = {"kind": kind, "place": place, "heading_deg": drawn.between(rng, 0, 360)}
    if kind == "passer-by":
        somebody |= {
            "place": [-2.5, 1.6],
            "walk": [drawn.between(rng, 0.6, 1.2), 0.0],
            "start_s": drawn.between(rng, 6, 14),
        }
    return toml_table("people", somebody).replace("[people]", "[[people]]")


if __name__ == "__main__":
    drawn.write_sets("varied", scenario_text, each=5, about=__doc__)
