"""What a page draws over the playing clip: every known point and angle, at its time, and no more."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Signal
from shared.keypoints import INDEX
from tests.unit import handmade
from vision.telling.moving import moving_drawing


def test_points_and_angles_come_back_at_their_times_and_gaps_stay_gaps() -> None:
    made = handmade.analysis()
    track = handmade.track()
    track.points_px[:, INDEX["left_knee"]] = np.stack([track.time_s, 2 * track.time_s], axis=1) * 10
    track.points_px[60:63, INDEX["left_knee"]] = np.nan
    knee = replace(made.signals["knee"], points=("left_hip", "left_knee", "left_ankle"))
    drawn = json.loads(moving_drawing(replace(made, track=track, signals={"knee": knee})) or "")
    assert (drawn["rate_hz"], drawn["start_s"], drawn["size"]) == (15.0, 0.0, list(track.picture))
    flat = drawn["points"]["left_knee"]
    assert flat[2 * 15 : 2 * 15 + 2] == [10, 20] and flat[2 * 30 : 2 * 30 + 2] == [None, None]
    assert drawn["marks"] == {}
    assert set(drawn["points"]) == {"left_knee"}, "a point that was never known takes no room"
    values = drawn["signals"][drawn["drive"]]["values"]
    assert values[round(4.5 * 15)] == pytest.approx(knee.values[round(4.5 * 30)], abs=0.06)
    assert values[round(30.3 * 15)] is None


def test_a_length_is_no_angle_and_without_a_track_there_is_nothing_to_draw() -> None:
    made = handmade.analysis()
    length: Signal = replace(made.signals["trunk"], unit="cm", points=("a", "b", "c"))
    assert json.loads(moving_drawing(replace(made, signals={"trunk": length})) or "")["signals"] == {}
    assert moving_drawing(replace(made, track=None)) is None


def test_the_lean_of_a_line_is_told_but_no_angle_between_two_hands() -> None:
    made = handmade.analysis()
    trunk = replace(made.signals["trunk"], points=("left_hip", "left_shoulder"))
    arms = replace(made.signals["trunk"], points=("left_wrist", "right_wrist"))
    drawn = json.loads(moving_drawing(replace(made, signals={"trunk": trunk, "arms": arms})) or "")
    assert list(drawn["signals"]) == ["trunk"]
    assert drawn["signals"]["trunk"]["points"] == ["left_hip", "left_shoulder"]
