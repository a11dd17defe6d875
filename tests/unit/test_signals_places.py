"""Signals of places: a pose whose answer is known, and that shift, scale and mirror leave it alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Track, View
from shared.keypoints import INDEX, KEYPOINTS, mirror
from vision.judging.bind import bind  # noqa: F401  registers every signal
from vision.measuring.signals.signal import SIGNALS, Raw

#: Pixels, trunk 100 long; the person faces right in the picture.
SIDE = {
    "hip": (200, 300), "shoulder": (200, 200), "elbow": (240, 240), "wrist": (260, 225),
    "ear": (205, 160), "knee": (280, 300), "ankle": (280, 380),
}  # fmt: skip
FRONT = {
    "left_shoulder": (240, 200), "right_shoulder": (160, 200), "left_elbow": (290, 210),
    "right_elbow": (110, 210), "left_wrist": (340, 205), "right_wrist": (60, 215),
}  # fmt: skip


def _track(points: dict[str, tuple[float, float]], yaw: float, frames: int = 5) -> Track:
    places = np.full((frames, len(KEYPOINTS), 2), np.nan)
    for name, at in points.items():
        places[:, INDEX[name]] = at
    view = View("side-left" if abs(yaw) > 45 else "front", 0.0, yaw)
    return Track(
        np.arange(frames) / 30, 30.0, places, np.zeros((frames, 33, 3)), np.ones((frames, 33)),
        np.zeros(33), "left", 1, view, 100.0, (400, 400),
    )  # fmt: skip


def _side(**moved: tuple[float, float]) -> Track:
    return _track({f"left_{part}": at for part, at in {**SIDE, **moved}.items()}, 90.0)


def _measure(kind: str, track: Track, **params: object) -> Raw:
    function, model = SIGNALS[kind]
    return function(track, model.model_validate(params))


KNOWN = [
    ("height_over", {"point": "elbow", "over": "wrist"}, _side(), -0.15),
    ("height_over", {"point": "wrist", "over": "shoulder"}, _side(), -0.25),
    ("height_over", {"point": "wrist", "over": "shoulder", "below_trunk": 0.33}, _side(), 0.08),
    ("ahead_of", {"point": "wrist", "of": "shoulder"}, _side(), 0.6),
    ("ahead_of", {"point": "wrist", "of": "shoulder"}, _side(wrist=(190, 225)), -0.1),
    ("shoulder_over_hip", {}, _side(), 1.0),
    ("shoulder_over_hip", {}, _side(shoulder=(200, 190)), 1.1),
    ("height_difference", {"via": "wrist"}, _track(FRONT, 0.0), 0.1),
    ("trunk_pitch", {}, _side(shoulder=(240, 200)), np.degrees(np.arctan(0.4))),
    ("trunk_pitch", {}, _side(shoulder=(180, 200)), -np.degrees(np.arctan(0.2))),
    ("head_pitch", {}, _side(eye=(225, 165)), np.degrees(np.arctan(0.25))),
    ("arm_below_level", {}, _track(FRONT, 0.0), np.degrees(np.arcsin(10 / np.hypot(50, 10)))),
]


@pytest.mark.parametrize(("kind", "params", "track", "value"), KNOWN)
def test_a_known_pose_has_its_known_value(kind: str, params: dict, track: Track, value: float) -> None:
    raw = _measure(kind, track, **params)
    assert raw.values == pytest.approx(np.full(5, value), abs=1e-6)
    assert raw.unjudgeable is None


@pytest.mark.parametrize(("kind", "params", "track", "value"), KNOWN)
def test_shift_scale_and_mirror_leave_it_alone(kind: str, params: dict, track: Track, value: float) -> None:
    side = abs(track.view.yaw_deg) > 45
    other = np.full_like(track.points_px, np.nan)
    for name, index in INDEX.items():
        other[:, INDEX[mirror(name)]] = (track.points_px[:, index] * (-1, 1)) * 1.7 + (900, 40)
    moved = replace(track, points_px=other, trunk_px=170.0, near="right", facing=-1 if side else 1)
    sign = -1.0 if kind == "height_difference" else 1.0
    assert _measure(kind, moved, **params).values == pytest.approx(np.full(5, sign * value), abs=1e-6)


def _filmed(turned_deg: float, down_deg: float) -> Track:
    """Hands a quarter of the trunk under the shoulders; the camera is far away, turned to the front and down.

    Lengths in trunks: ahead, up, out to a side.
    """
    turn, down = np.radians([turned_deg, down_deg])
    points = {}
    for side, sign in (("left", 1.0), ("right", -1.0)):
        for part, (ahead, up, out) in {"shoulder": (0.0, 0.0, 0.4), "wrist": (0.9, -0.25, 0.6)}.items():
            across = ahead * np.cos(turn) - sign * out * np.sin(turn)
            towards = ahead * np.sin(turn) + sign * out * np.cos(turn)
            low = towards * np.sin(down) - up * np.cos(down)
            points[f"{side}_{part}"] = (200.0 + 100.0 * across, 200.0 + 100.0 * low)
    return _track(points, 90.0 - turned_deg)


@pytest.mark.parametrize(("turned_deg", "down_deg"), [(0, 0), (0, 15), (15, 12), (-15, 12), (12, -8)])
def test_hands_are_as_high_from_a_camera_that_looks_down_as_from_a_level_one(
    turned_deg: float, down_deg: float
) -> None:
    """Projected without a lens: near hands lie lower, by a fifth of the trunk from 15 degrees."""
    track = _filmed(turned_deg, down_deg)
    told = _measure("height_over", track, point="wrist", over="shoulder").values
    assert told == pytest.approx(np.full(5, -0.25), abs=0.03)


@pytest.mark.parametrize("low", [30.0, 80.0], ids=["still", "on the thigh"])
def test_a_far_hand_that_does_something_else_says_nothing_of_the_camera(low: float) -> None:
    track = _filmed(0, 0)
    track.points_px[:, INDEX["left_wrist"], 0] += np.array([0.0, 40.0, 0.0, 40.0, 0.0])
    track.points_px[:, INDEX["right_wrist"], 1] += low
    assert _measure("height_over", track, point="wrist", over="shoulder").values == pytest.approx(-0.25)


def test_a_far_hand_that_is_hardly_seen_says_nothing_of_the_camera() -> None:
    track = _filmed(0, 15)
    near = track.points_px[0, INDEX["left_shoulder"], 1] - track.points_px[0, INDEX["left_wrist"], 1]
    track.points_px[:, INDEX["right_wrist"]] = track.points_px[:, INDEX["right_shoulder"]] = np.nan
    assert _measure("height_over", track, point="wrist", over="shoulder").values == pytest.approx(near / 100)


@pytest.mark.parametrize(
    ("kind", "params", "off"),
    [
        ("height_over", {"point": "wrist", "over": "shoulder"}, 0.0),
        ("ahead_of", {"point": "wrist", "of": "shoulder"}, 40.0),
        ("forward_shift", {"parts": ["hip"]}, 180.0),
        ("height_difference", {}, 90.0),
        ("arm_below_level", {}, -90.0),
        ("elbow_by_lengths", {}, 90.0),
    ],
)
def test_a_view_that_cannot_show_it_is_named(kind: str, params: dict, off: float) -> None:
    track = _track({**FRONT, **{f"left_{k}": v for k, v in SIDE.items()}}, off)
    assert "film straight from the" in (_measure(kind, track, **params).unjudgeable or "")


def test_a_shift_is_told_from_the_usual_place_and_forward_is_positive() -> None:
    track = _side()
    track.points_px[4, INDEX["left_hip"], 0] += 20
    assert _measure("forward_shift", track, parts=["hip"]).values[4] == pytest.approx(0.2)
    both = _measure("forward_shift", track, parts=["hip", "knee"])
    assert both.values[4] == pytest.approx(0.1) and both.points == ("left_hip",)


def test_one_sunken_arm_is_left_to_the_check_of_uneven_sides() -> None:
    track = _track(FRONT, 0.0, frames=9)
    level = _measure("arm_below_level", track).values[0]
    track.points_px[8, INDEX["left_elbow"], 1] += 20
    assert _measure("arm_below_level", track).values[8] == pytest.approx(level, abs=0.5)
    track.points_px[8, INDEX["right_elbow"], 1] += 20
    assert _measure("arm_below_level", track).values[8] > level + 15


def test_an_arm_that_is_never_seen_leaves_the_level_unknown_without_a_warning() -> None:
    track = _track({k: v for k, v in FRONT.items() if not k.startswith("right_")}, 0.0)
    assert np.isnan(_measure("arm_below_level", track).values).all()


def test_an_elbow_is_measured_in_depth_by_how_short_the_arm_looks() -> None:
    track = _track(FRONT, 0.0, frames=40)
    for side, x in (("left", -1.0), ("right", 1.0)):
        shoulder = track.points_px[:, INDEX[f"{side}_shoulder"]]
        track.points_px[:, INDEX[f"{side}_elbow"]] = shoulder + np.array([x * 60.0, 0.0])
        track.points_px[:, INDEX[f"{side}_wrist"]] = shoulder + np.array([x * 110.0, 0.0])
    straight = _measure("elbow_by_lengths", track).values
    assert straight == pytest.approx(np.full(40, 180.0))
    for side, x in (("left", -1.0), ("right", 1.0)):
        elbow = track.points_px[20, INDEX[f"{side}_elbow"]]
        track.points_px[20, INDEX[f"{side}_wrist"]] = elbow + np.array([x * 25.0, 0.0])
    assert _measure("elbow_by_lengths", track).values[20] == pytest.approx(120.0)


def test_from_the_side_an_arm_is_told_by_how_far_the_hand_lies_ahead() -> None:
    track = _track({f"left_{part}": at for part, at in SIDE.items()}, 90.0, frames=50)
    shoulder = track.points_px[0, INDEX["left_shoulder"], 0]
    track.points_px[:, INDEX["left_wrist"], 0] = shoulder + 100.0
    track.points_px[10, INDEX["left_wrist"], 0] = shoulder
    track.points_px[20, INDEX["left_wrist"], 0] = shoulder - 20.0
    values = _measure("arm_horizontal", track).values
    assert values[0] == pytest.approx(10.0) and values[10] == pytest.approx(90.0)
    assert 100.0 < values[20] < 103.0


def test_a_shoulder_that_comes_up_to_the_ear_is_told_by_as_much() -> None:
    track = _side(ear=(200, 150))
    before = _measure("shoulder_to_ear", track).values[0]
    raised = _side(ear=(200, 150), shoulder=(200, 190))
    assert _measure("shoulder_to_ear", raised).values[0] - before == pytest.approx(0.1)


def test_an_unknown_point_leaves_the_value_unknown() -> None:
    track = _side()
    track.points_px[2, INDEX["left_wrist"]] = np.nan
    values = _measure("ahead_of", track, point="wrist", of="shoulder").values
    assert np.isnan(values[2]) and not np.isnan(values[[0, 1, 3, 4]]).any()
