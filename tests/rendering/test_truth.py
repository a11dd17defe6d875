"""True angles: closed forms, and the posed body against the angles it was asked for."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.rendering.angles import JOINT_NAMES, angle_arrays, included


def test_included_angle_of_known_points():
    a, b = np.array([1.0, 0, 0]), np.zeros(3)
    assert included(a, b, np.array([0, 2.0, 0])) == pytest.approx(90)
    assert included(a, b, np.array([-3.0, 0, 0])) == pytest.approx(180)


@pytest.mark.parametrize("bend", [90.0, 155.0, 180.0, 183.0])
def test_the_knee_reads_above_180_past_straight(bend):
    places = np.zeros((1, len(JOINT_NAMES), 3))

    def put(name, at):
        places[0, JOINT_NAMES.index(name)] = at

    for side, x in (("left", 0.1), ("right", -0.1)):
        put(f"{side}_hip", (x, 0, 0.5))
        put(f"{side}_knee", (x, -0.4, 0.5))
        a = np.radians(180 - bend)
        put(f"{side}_ankle", (x, -0.4 - 0.4 * np.cos(a), 0.5 - 0.4 * np.sin(a)))
    found = angle_arrays(places)
    assert found["knee_left_deg"][0] == pytest.approx(bend, abs=1e-6)
    assert found["knee_right_deg"][0] == pytest.approx(bend, abs=1e-6)


ENDS = [
    ("leg-extension", 92.0),
    ("leg-extension", 182.0),
    ("leg-curl", 160.0),
    ("lat-pulldown", 75.0),
    ("chest-press", 160.0),
    ("shoulder-press", 70.0),
    ("chest-fly", 85.0),
    ("reverse-fly", 10.0),
]


@pytest.mark.parametrize(("exercise", "drive"), ENDS)
def test_a_posed_body_has_the_angle_it_was_asked_for(exercise, drive):
    """Exact on the joint centres, whatever the body; no picture is drawn."""
    for package in ("anny", "warp"):
        pytest.importorskip(package, reason=f"the rendering extra is not installed ({package})")
    from sample_clips.rendering.angles import drive_angle, joints
    from sample_clips.rendering.body import make_body
    from sample_clips.rendering.postures import POSTURES, make_station
    from sample_clips.rendering.rig import Rig
    from sample_clips.rendering.specs import BodySpec

    body = make_body(BodySpec(height_cm=171.0, gender=0.5))
    rig = Rig(body)
    station = make_station(exercise, rig, (90.0, 155.0), -10.0, False)
    _, centres = rig.solve(POSTURES[exercise](station, drive, {"trunk_pitch_deg": 12.0}))
    found = angle_arrays(joints(body, centres, {})[None])
    assert drive_angle(exercise, found, "left")[0] == pytest.approx(drive, abs=0.01)
    assert found["trunk_pitch_deg"][0] == pytest.approx(2.0, abs=0.5)


@pytest.mark.parametrize("hands_in", [0.0, 1.0])
def test_elbows_that_bend_go_back_or_let_the_hands_come_in(hands_in):
    for package in ("anny", "warp"):
        pytest.importorskip(package, reason=f"the rendering extra is not installed ({package})")
    from sample_clips.rendering.angles import joints
    from sample_clips.rendering.body import make_body
    from sample_clips.rendering.postures import POSTURES, make_station
    from sample_clips.rendering.rig import Rig
    from sample_clips.rendering.specs import BodySpec

    body = make_body(BodySpec(height_cm=171.0, gender=0.5))
    rig = Rig(body)
    station = make_station("reverse-fly", rig, (10.0, 85.0), -10.0, False)

    def angles(offsets):
        _, centres = rig.solve(POSTURES["reverse-fly"](station, 80.0, offsets))
        return angle_arrays(joints(body, centres, {})[None])

    usual, bent = angles({}), angles({"elbow_deg": 120.0, "hands_in": hands_in})
    moved = {name: float(bent[name][0] - usual[name][0]) for name in usual}
    assert bent["elbow_left_deg"][0] == pytest.approx(120.0, abs=0.5)
    assert abs(moved["arm_horizontal_deg"]) < 0.5 if hands_in == 0.0 else moved["arm_horizontal_deg"] < -15.0
    upper = moved["upper_arm_horizontal_deg"]
    assert abs(upper) < 1.0 if hands_in else upper > 15.0
