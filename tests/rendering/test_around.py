"""What goes on about a set: movements that are no repetition, and a mirror."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from sample_clips.rendering import make_around
from sample_clips.rendering.aside import INTO_S, Aside, asides
from sample_clips.rendering.mirrored import Mirror
from sample_clips.rendering.profile import build_timeline
from sample_clips.rendering.scenario import SETS, ScenarioError, parse_scenario
from sample_clips.rendering.scene import box
from sample_clips.rendering.specs import RepSpec, SetSpec

WALL = Mirror(np.array([0.0, 1.0, 0.0]), 1.5)


def test_a_movement_leaves_the_set_alone():
    timeline = build_timeline((RepSpec(rest_s=3.0, then="wipe"), RepSpec()), 4.0, 90.0, 3.0)
    found = asides(SetSpec(before="stretch", after="stand"), timeline)
    assert [aside.kind for aside in found] == ["stretch", "wipe", "stand"]
    moving = [t for t in np.arange(0.0, timeline.duration_s, 0.05) if any(a.weight(t) for a in found)]
    lifted = [t for t in moving for rep in timeline.reps if rep.lift.start_s <= t <= rep.lower.end_s]
    assert moving and not lifted


def test_who_stands_does_so_from_the_first_picture_or_to_the_last():
    stands = Aside("stand", 0.0, 3.0, from_first=True)
    assert (stands.weight(0.0), stands.weight(3.0)) == (1.0, 0.0)
    goes = Aside("stand", 10.0, 14.0, to_last=True)
    assert (goes.weight(10.0), goes.weight(10.0 + INTO_S), goes.weight(14.0)) == (0.0, 1.0, 1.0)


def test_a_mirror_shows_things_as_far_behind_as_they_are_before_it():
    there = WALL.static(box((0.3, 0.5, 1.0), (0.2, 0.2, 0.2), 0))
    assert there.verts.mean(axis=0) == pytest.approx([0.3, 2.5, 1.0])
    a, b, c = (there.verts[there.faces[:, k]] for k in range(3))
    outward = np.cross(b - a, c - a)
    assert ((outward * there.normals[there.faces[:, 0]]).sum(axis=1) > 0).all(), (
        "faces look out, as their normals do"
    )


def test_what_moves_is_mirrored_like_what_stands():
    shift = np.array([[0.1, -0.2, 0.3]])
    rotation, moved = WALL.moving(np.eye(3)[None], shift)
    point = np.array([0.4, 0.5, 0.6])
    assert rotation[0] @ point + moved[0] == pytest.approx([0.5, 2.7, 0.9])


def test_sets_with_much_about_them_can_be_rendered_and_differ():
    read = [
        parse_scenario(tomllib.loads(make_around.scenario_text(exercise, number)), "x")
        for exercise in SETS
        for number in (1, 2, 3)
    ]
    assert len({s.set.before for s in read}) >= 4
    assert any(s.machine.mirror_m for s in read) and any(s.machine.occluder != "none" for s in read)
    assert any(rep.then and rep.rest_on_stack for s in read for rep in s.reps)


def test_a_movement_that_nobody_knows_is_refused_by_name():
    with pytest.raises(ScenarioError, match=r"set\.before is 'dance'"):
        parse_scenario({"exercise": "chest-fly", "set": {"before": "dance"}}, "x")


@pytest.mark.parametrize("softness", [[2.0], [0.5, 2.0], [1.0, 2.0, 3.0]])
def test_a_softness_that_is_none_is_refused(softness: list[float]) -> None:
    with pytest.raises(ScenarioError, match=r"set\.softness is .*, expected two numbers of 1 or more"):
        parse_scenario({"exercise": "chest-fly", "set": {"softness": softness}}, "x")
