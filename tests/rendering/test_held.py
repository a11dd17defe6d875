"""Handles that go a straight way of their own: the hands keep to it, whatever the elbow does."""

from __future__ import annotations

import tomllib
from types import SimpleNamespace

import numpy as np
import pytest

from sample_clips.rendering import make_held
from sample_clips.rendering.postures import POSTURES, Station
from sample_clips.rendering.rig import elbow_point
from sample_clips.rendering.scenario import DEFAULT_ENDS, parse_scenario

UPPER_M, FORE_M = 0.30, 0.25
RIG = SimpleNamespace(
    upper_m=UPPER_M, fore_m=FORE_M, trunk_m=0.5, thigh_m=0.42, shank_m=0.4, mid_hip=np.zeros(3),
    body=SimpleNamespace(head_of=lambda _: np.array([0.1, 0.0, 0.0])),
)  # fmt: skip


def scenario(exercise, number):
    return parse_scenario(tomllib.loads(make_held.scenario_text(exercise, number)), "held")


def hands(exercise, way, drives, **offsets):
    """Places of the left hand from its shoulder, m, and the elbow's angle there, degrees."""
    station = Station(exercise, RIG, 0.5, 0.0, DEFAULT_ENDS[exercise])
    station.way = way
    places, elbows = [], []
    for drive in drives:
        arm = POSTURES[exercise](station, drive, offsets).arms[".L"]
        elbow, wrist, _ = elbow_point(np.zeros(3), arm.wrist, UPPER_M, FORE_M, arm.pole)
        upper, fore = -elbow, wrist - elbow
        elbows.append(np.degrees(np.arccos(upper @ fore / np.linalg.norm(upper) / np.linalg.norm(fore))))
        places.append(wrist)
    return np.array(places), np.array(elbows)


@pytest.mark.parametrize("exercise", make_held.MACHINES)
@pytest.mark.parametrize("number", [3, 6, 9, 12])
def test_hands_keep_to_a_straight_way_on_which_the_elbow_is_as_asked(exercise, number):
    drives = np.linspace(*DEFAULT_ENDS[exercise], 15)
    places, elbows = hands(exercise, scenario(exercise, number).machine.way, drives)
    along = places[-1] - places[0]
    off = np.linalg.norm(np.cross(places - places[0], along / np.linalg.norm(along)), axis=1)
    assert off.max() < 0.005
    assert elbows == pytest.approx(drives, abs=0.5)
    assert (np.diff((places - places[0]) @ along) > 0).all(), "they go one way only"


def test_a_bar_keeps_the_hands_as_far_apart_as_they_took_it():
    way = scenario("lat-pulldown", 3).machine.way
    places, _ = hands("lat-pulldown", way, np.linspace(160, 75, 9))
    assert np.ptp(places[:, 0]) < 0.005


def test_hands_higher_than_usual_are_higher_at_the_turn_alone():
    way = scenario("lat-pulldown", 3).machine.way
    (usual, _), (high, _) = (hands("lat-pulldown", way, (160, 75), hands_up_cm=up) for up in (0.0, 10.0))
    assert high[1][2] - usual[1][2] > 0.04
    assert high[0] == pytest.approx(usual[0], abs=0.02)


def test_whole_sets_are_kept_from_learning():
    parts = {number: scenario("chest-press", number) for number in range(1, 7)}
    assert [n for n, s in parts.items() if s.part == "validate"] == [3, 6]
    assert len(parts[1].reps) == 4 < len(parts[3].reps)
