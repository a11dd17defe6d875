"""Writes sets with joints locked out in some repetitions, and nearly in others.

python -m sample_clips.rendering.make_lockouts --out FOLDER [--each 6]

People, cameras, tempo and company are drawn like those of ``make_varied``, but are others. A lockout comes
with or without a hard stop, and from ends that are usually well bent or nearly straight.
"""

from __future__ import annotations

import numpy as np

from sample_clips.rendering import drawn, make_varied
from sample_clips.rendering.scenario import DEFAULT_ENDS, SETS

#: Other people than those of ``make_varied`` and ``make_around``.
FIRST_NUMBER = 900
MACHINES = tuple(name for name in SETS if "fly" not in name)
#: Repetitions locked out and nearly so, the ends in degrees, and the share of lockouts with a hard stop.
LOCKED, NEAR, LOCKED_DEG, NEAR_DEG, USUAL_DEG, HARD = (2, 4), (0, 2), (174, 179), (166, 169), (150, 164), 0.5


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    number += FIRST_NUMBER
    tables, _, company = make_varied.scenario_tables(exercise, number)
    rng = np.random.default_rng([number, SETS.index(exercise), 53])
    ends = DEFAULT_ENDS[exercise]
    end = "load_down_end_deg" if ends[0] > ends[1] else "lift_end_deg"
    tables["set"][end] = drawn.between(rng, *USUAL_DEG)
    reps = rng.permutation(np.arange(1, tables["set"]["reps"] + 1))
    locked, near = (int(rng.integers(low, high + 1)) for low, high in (LOCKED, NEAR))
    faults = {
        int(rep): {end: drawn.between(rng, *LOCKED_DEG), "hard_stop": bool(rng.random() < HARD)}
        for rep in reps[:locked]
    }
    faults |= {int(rep): {end: drawn.between(rng, *NEAR_DEG)} for rep in reps[locked : locked + near]}
    return "# Written by sample_clips/rendering/make_lockouts.py; everything drawn at random.\n" + (
        make_varied.joined(exercise, tables, dict(sorted(faults.items())), company, condition="lockouts")
    )


if __name__ == "__main__":
    drawn.write_sets("lockouts", scenario_text, each=6, about=__doc__, machines=MACHINES)
