"""Sets behind a board: the limb at the load is hidden throughout, and the truth is that they are not fit."""

from __future__ import annotations

import tomllib

import pytest

from sample_clips.rendering import make_hidden
from sample_clips.rendering.scenario import parse_scenario


@pytest.mark.parametrize("exercise", make_hidden.MACHINES)
@pytest.mark.parametrize("number", [1, 2, 3])
def test_each_has_a_board_before_its_limb_and_is_not_fit(exercise, number):
    read = parse_scenario(tomllib.loads(make_hidden.scenario_text(exercise, number)), "hidden")
    board = "screen" if exercise.startswith("leg") else "arm-screen"
    assert (read.machine.occluder, read.fit, read.problems) == (board, False, ("limb-hidden",))
    assert abs(read.camera.yaw_deg) <= make_hidden.MOST_YAW_DEG
