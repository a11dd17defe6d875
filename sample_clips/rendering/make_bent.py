"""Writes sets of flies whose elbows bend, in every way that they may, beside sets that are only cut short.

python -m sample_clips.rendering.make_bent --out FOLDER [--each 8]

People, cameras, tempo and company are drawn like those of ``make_varied``, but are others. Where the elbows
bend, the hands stay on their path and the elbows go back, or the elbows keep theirs and the hands come in.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn, make_varied
from sample_clips.rendering.make_bench import FLIES
from sample_clips.rendering.make_faulty import REPS, drawn_faults
from sample_clips.rendering.scenario import SETS

#: Other people than those of ``make_varied`` and of the other files of its kind.
FIRST_NUMBER = 1700
KINDS = ("elbows-bend", "elbows-bend", "elbow-bend", "near-elbows-bend", "short-range", "partial", "too-fast")


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    number += FIRST_NUMBER
    tables, _, company = make_varied.scenario_tables(exercise, number)
    rng = np.random.default_rng([number, SETS.index(exercise), 97])
    plan = tables["set"]
    plan["reps"] = int(rng.integers(*REPS))
    faults = drawn_faults(rng, exercise, kinds=KINDS, last=plan["reps"])
    return "# Written by sample_clips/rendering/make_bent.py; everything drawn at random.\n" + (
        make_varied.joined(exercise, tables, faults, company, condition="bent")
    )


if __name__ == "__main__":
    drawn.write_sets("bent", scenario_text, each=8, about=__doc__, machines=FLIES)
