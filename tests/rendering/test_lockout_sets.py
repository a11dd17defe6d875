"""Sets drawn with lockouts, bent elbows and faults that chance seldom draws: what they are for is in them."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from sample_clips.rendering import make_bent, make_beyond, make_faulty, make_lockouts, make_varied
from sample_clips.rendering.make_bench import FLIES
from sample_clips.rendering.scenario import SETS, parse_scenario


@pytest.mark.parametrize("exercise", make_lockouts.MACHINES)
def test_each_set_has_lockouts_and_the_sets_of_a_machine_have_sound_and_near_ends(exercise: str):
    ends = []
    for number in range(1, 11):
        read = parse_scenario(tomllib.loads(make_lockouts.scenario_text(exercise, number)), "x")
        straightest = [max(rep.lift_end_deg, rep.load_down_end_deg) for rep in read.reps]
        assert any(end > 172 for end in straightest)
        ends += straightest
    assert any(end < 165 for end in ends) and any(166 <= end <= 169 for end in ends)


@pytest.mark.parametrize("exercise", SETS)
def test_the_faulty_sets_of_a_machine_can_be_rendered_and_begin_well(exercise: str):
    for number in range(1, 7):
        read = parse_scenario(tomllib.loads(make_faulty.scenario_text(exercise, number)), "x")
        odd = [i for i, rep in enumerate(read.reps, 1) if rep.offsets or rep.rest_on_stack or rep.rushed_turn]
        assert not odd or min(odd) >= make_faulty.FIRST_FAULTY


@pytest.mark.parametrize("exercise", FLIES)
def test_the_bent_sets_bend_both_ways_and_have_short_ones_beside_them(exercise: str):
    reps = []
    for number in range(1, 9):
        read = parse_scenario(tomllib.loads(make_bent.scenario_text(exercise, number)), "x")
        assert all(not rep.offsets for rep in read.reps[: make_faulty.FIRST_FAULTY - 1])
        reps += read.reps
    bent = [rep for rep in reps if rep.offsets.get("elbow_deg", 160.0) < 145.0]
    assert {rep.offsets.get("hands_in", 0.0) for rep in bent} == {0.0, 1.0}
    assert any(rep.range_share < 0.8 and not rep.offsets for rep in reps)


@pytest.mark.parametrize("exercise", SETS)
def test_sets_drawn_beyond_what_was_learnt_can_be_rendered_and_reach_further(exercise: str):
    cameras = {make_varied: [], make_beyond: []}
    for number in range(1, 11):
        for module, found in cameras.items():
            read = parse_scenario(tomllib.loads(module.scenario_text(exercise, number)), "x")
            found.append((read.camera.height_m, read.camera.fov_deg))
            assert read.part == ("validate" if module is make_beyond else "tune")
    learnt, beyond = (np.ptp(found, axis=0) for found in cameras.values())
    assert (beyond > learnt).all()
