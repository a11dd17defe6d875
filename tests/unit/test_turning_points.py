"""A repetition is cut only where the limb itself turned."""

from __future__ import annotations

import numpy as np

from vision.measuring.signals.turning_points import Way, turning_points, without_false_turns

TIME = np.arange(0, 40, 1 / 30)
LOAD = 30.0 - 30.0 * np.cos(2 * np.pi * TIME / 8.0)
PLACE = np.stack([2.0 * LOAD, 0.0 * LOAD], axis=-1)
WAYS = (Way(np.array([0.0, 60.0]), np.array([[0.0, 0.0], [120.0, 0.0]])),)


def _dipped():
    """For a moment at the end of a lift, about 11.3 s, the drive reads 40 degrees less than it is."""
    dip = -40.0 * np.clip(1.0 - np.abs(TIME - 11.3) / 0.4, 0.0, 1.0)
    return LOAD + dip


def test_a_turn_of_the_drive_alone_is_none():
    true, dipped = turning_points(LOAD, 12.0), turning_points(_dipped(), 12.0)
    assert len(dipped) == len(true) + 2
    assert len(without_false_turns(dipped, _dipped(), (PLACE,), WAYS)) == len(true)


def test_a_turn_that_the_limb_makes_stays():
    dipped = turning_points(_dipped(), 12.0)
    place = np.stack([2.0 * _dipped(), 0.0 * LOAD], axis=-1)
    assert without_false_turns(dipped, _dipped(), (place,), WAYS) == dipped


def test_a_limb_that_was_hidden_then_cannot_take_a_turn_back():
    dipped = turning_points(_dipped(), 12.0)
    place = PLACE.copy()
    place[(TIME > 10.0) & (TIME < 13.0)] = np.nan
    assert without_false_turns(dipped, _dipped(), (place,), WAYS) == dipped
    assert without_false_turns(dipped, _dipped(), (), ()) == dipped


def test_a_limb_that_comes_towards_the_camera_first_has_turned_there():
    """Arms that open wide hardly move in the picture on the first half of their way."""
    shown = TIME < 36.0
    load = np.where((TIME > 16.0) & (TIME < 24.0), LOAD / 2, LOAD)[shown]
    place = np.stack([120.0 * (load / 60.0) ** 3, 0.0 * load], axis=-1)
    levels = np.linspace(0.0, 60.0, 13)
    way = Way(levels, np.stack([120.0 * (levels / 60.0) ** 3, 0.0 * levels], axis=-1))
    turns = turning_points(load, 12.0)
    assert without_false_turns(turns, load, (place,), (way,)) == turns


def test_a_joint_misread_beyond_the_usual_ends_is_taken_back():
    """Twice in a hold the drive reads more than the set's highest, while the hand stays where it is."""
    bumps = sum(24.0 * np.exp(-(((TIME - at) / 0.15) ** 2)) for at in (11.7, 12.3))
    read = np.maximum(LOAD, 59.0) * (np.abs(TIME - 12.0) < 0.9) + LOAD * (np.abs(TIME - 12.0) >= 0.9) + bumps
    turns = turning_points(read, 12.0)
    assert len(turns) == len(turning_points(LOAD, 12.0)) + 2
    assert len(without_false_turns(turns, read, (PLACE,), WAYS)) == len(turns) - 2


def test_a_limb_that_came_back_another_way_has_turned():
    """Between two repetitions the arm goes down, then to the face, near which the next one begins."""
    place, face = PLACE.copy(), (TIME > 15.0) & (TIME < 16.5)
    place[face] = PLACE[np.argmin(np.abs(TIME - 12.0))]
    turns = turning_points(LOAD, 12.0)
    assert any(face[turn] for turn in turns)
    assert without_false_turns(turns, LOAD, (place,), WAYS) == turns
