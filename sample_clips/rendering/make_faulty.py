"""Writes sets whose faults are those that chance seldom draws, each beyond its limit and nearly so.

python -m sample_clips.rendering.make_faulty --out FOLDER [--each 4]

People, cameras, tempo and company are drawn like those of ``make_varied``, but are others; some sets creep or
lose their rhythm as well, and in some the last three fade in place of what was drawn for them. The last
repetition has no other fault.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn, make_varied
from sample_clips.rendering.bench_faults import hard_settings
from sample_clips.rendering.scenario import SETS

#: Other people than those of ``make_varied``, ``make_around`` and ``make_lockouts``.
FIRST_NUMBER = 1300
KINDS = {
    "leg-extension": "dropped-load head-drop stack-rest rushed-turn near-hip-slide lean-back near-chest-drop",
    "leg-curl": "short-lift-end dropped-load head-drop stack-rest rushed-turn near-lean-back chest-drop",
    "lat-pulldown": "hands-push-down hands-high head-level feet-moving stack-rest near-head-level shrug",
    "chest-press": "hands-behind press-height shrug hip-slide head-drop rushed-turn near-shrug",
    "chest-fly": "elbow-bend arm-level uneven-sides dropped-load near-elbow-bend near-arm-level stack-rest",
    "reverse-fly": "past-body near-past-body shrug dropped-load short-range near-shrug too-fast",
    "shoulder-press": "feet-moving lean-back shrug uneven-sides rushed-turn near-hip-slide near-uneven-sides",
}
#: Repetitions of a set (from, to before), and how many are faulty; the first three tell changes, so not they.
REPS, FAULTY, FIRST_FAULTY = (8, 11), 4, 4
#: What a whole set may have beside; most have nothing.
OF_SET = ("", "", "", "creep", "uneven-tempo", "fade-speed", "fade-range")


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    number += FIRST_NUMBER
    tables, _, company = make_varied.scenario_tables(exercise, number)
    rng = np.random.default_rng([number, SETS.index(exercise), 71])
    plan = tables["set"]
    plan["reps"] = int(rng.integers(*REPS))
    kinds = KINDS[exercise].split()
    # Neighbours in the list come together, so that few sets have them all.
    chosen = [kinds[(2 * number + i) % len(kinds)] for i in range(3)]
    faults = drawn_faults(rng, exercise, kinds=chosen, last=plan["reps"] - 1)
    _of_set(str(rng.choice(OF_SET)), rng, plan, faults)
    return "# Written by sample_clips/rendering/make_faulty.py; everything drawn at random.\n" + (
        make_varied.joined(exercise, tables, faults, company, condition="faulty")
    )


def drawn_faults(rng, exercise, kinds, last):
    """Settings of the faulty repetitions of a set, `last` the last that may be one: number to keys."""
    at = sorted(rng.choice(np.arange(FIRST_FAULTY, last + 1), FAULTY, replace=False))
    return {int(rep): hard_settings(str(rng.choice(kinds)), exercise, rng) for rep in at}


def _of_set(kind, rng, plan, faults):
    """What goes for a whole set, or for its last three repetitions."""
    if kind == "creep":
        plan["hip_creep_cm"] = drawn.between(rng, 6.0, 8.5)
    if kind == "uneven-tempo":
        plan["vary"] = 0.45
    last = {"fade-speed": {"lift_s": 0.85, "lower_s": 0.95}, "fade-range": {"range_share": 0.75}}.get(kind)
    if last:
        faults |= {rep: dict(last) for rep in range(plan["reps"] - 2, plan["reps"] + 1)}


if __name__ == "__main__":
    drawn.write_sets("faulty", scenario_text, each=4, about=__doc__)
