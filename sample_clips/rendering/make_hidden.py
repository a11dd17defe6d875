"""Writes sets of which a board hides the limb at the load throughout: nothing of them can be told.

python -m sample_clips.rendering.make_hidden --out FOLDER [--each 3]

People, cameras and tempo are drawn like those of ``make_varied``, but are others, and nobody else is about.
Arms that rise above the board show there: a pulldown's at the top, and no shoulder press is among them.
"""

from __future__ import annotations

from sample_clips.rendering import drawn, make_varied
from sample_clips.rendering.make_bench import toml_table

#: Other people than those of ``make_varied`` and of the other files of its kind.
FIRST_NUMBER = 1800
MACHINES = ("leg-extension", "leg-curl", "lat-pulldown", "chest-press")
#: How far off their view the cameras stand at most, degrees: a set filmed askew is refused for that.
MOST_YAW_DEG = 12.0


def scenario_text(exercise, number):
    """TOML text of one such set; the number draws everything."""
    tables, _, _ = make_varied.scenario_tables(exercise, FIRST_NUMBER + number)
    yaw = tables["camera"]["yaw_deg"]
    tables["camera"]["yaw_deg"] = round(yaw * MOST_YAW_DEG / 27.0, 1)
    tables["machine"]["occluder"] = "screen" if exercise.startswith("leg") else "arm-screen"
    top = {
        "exercise": exercise, "run_as": exercise, "part": "validate", "fit": False,
        "conditions": ["limb-hidden"], "problems": ["limb-hidden"],
    }  # fmt: skip
    return "# Written by sample_clips/rendering/make_hidden.py; everything drawn at random.\n" + (
        toml_table("", top) + "".join(toml_table(name, table) for name, table in tables.items())
    )


if __name__ == "__main__":
    drawn.write_sets("hidden", scenario_text, each=3, about=__doc__, machines=MACHINES)
