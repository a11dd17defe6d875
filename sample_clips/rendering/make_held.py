"""Writes sets of presses and pulldowns whose handles go a straight way of their own.

python -m sample_clips.rendering.make_held --out FOLDER [--each 12]

A bar keeps the hands as far apart as they took it, and a lever leads them: short of the turn they stop short
on that way. In the other sets drawn at random the arms lead, and a hand may have gone nearly all of its way
where the elbow has done half. Every third set is a whole one, drawn like those of ``make_varied`` and never
learnt from; the others are short, like those of ``make_wide``.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn, make_varied, make_wide
from sample_clips.rendering.scenario import SETS

MACHINES = ("lat-pulldown", "chest-press", "shoulder-press")
#: Other people than those of the other sets.
FIRST_NUMBER = 700


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    rng = np.random.default_rng([SETS.index(exercise), number, 41])
    tables, faults, company = make_varied.scenario_tables(exercise, FIRST_NUMBER + number)
    machine = {k: v for k, v in tables["machine"].items() if k != "hands_turn_deg"}
    tables["machine"] = machine | {"way": drawn.way(rng, exercise)}
    for table in faults.values():
        table.pop("hands_behind_cm", None)  # a straight way never leads them there
    whole = number % 3 == 0
    if not whole:
        tables["set"] = make_wide.SET | {name: tables["set"][name] for name in ("trunk_deg", "seed")}
        tables["video"]["fps"] = 20
        faults = {rep: make_wide.one_rep(rng, exercise) for rep in range(1, make_wide.REPS + 1)}
    about = "# Written by sample_clips/rendering/make_held.py; everything drawn at random.\n"
    part = "validate" if whole else "tune"
    return about + make_varied.joined(exercise, tables, faults, company, condition="held", part=part)


if __name__ == "__main__":
    drawn.write_sets("held", scenario_text, each=12, about=__doc__, machines=MACHINES)
