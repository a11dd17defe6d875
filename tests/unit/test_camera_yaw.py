"""Where the camera stands, by the picture in side views and by the landmarks in space otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Track, View
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from vision.judging.quality import THRESHOLDS, least_off_view_deg, off_view_deg
from vision.measuring.learnt.uncertainty import clip_half_width, phase_half
from vision.measuring.signals.angles import JointParams
from vision.measuring.track.build import OBLIQUE_DEG, facing_of
from vision.measuring.track.camera_yaw import TURN_BASE, TURN_SLOPE, camera_turn_deg, side_off_deg

LEG, FLY = find_exercise("leg-extension"), find_exercise("chest-fly")
PICTURE, TRUNK = (720, 1280), 200.0


def a_track(share: float, yaw_deg: float, facing: int = 1) -> Track:
    """Hips in the middle of the picture; the far hip and shoulder show ``share`` of the trunk ahead."""
    points = np.full((5, 33, 2), np.nan)
    for part, y in (("hip", 700.0), ("shoulder", 500.0)):
        points[:, INDEX[f"left_{part}"]] = (360.0, y)
        points[:, INDEX[f"right_{part}"]] = (360.0 + facing * share * TRUNK, y)
    return Track(
        np.arange(5) / 30, 30.0, points, np.full((5, 33, 3), np.nan), np.full((5, 33), 0.9), np.zeros(33),
        "left", facing, View("side-left", abs(yaw_deg - 90.0), yaw_deg), TRUNK, PICTURE,
    )  # fmt: skip


@pytest.mark.parametrize("facing", [1, -1])
@pytest.mark.parametrize("share", [-0.2, 0.05, 0.3])
def test_in_a_side_view_the_picture_tells_the_turn(share: float, facing: int):
    track = a_track(share, 55.0, facing)
    assert camera_turn_deg(track) == pytest.approx(TURN_SLOPE * share + TURN_BASE)
    assert side_off_deg(track) == off_view_deg(track, LEG) == pytest.approx(abs(camera_turn_deg(track)))


def test_who_sits_beside_the_middle_of_the_picture_is_seen_at_a_slant():
    track = a_track(0.2, 70.0)
    aside = replace(track, points_px=track.points_px + np.array([200.0, 0.0]))
    assert camera_turn_deg(aside) > camera_turn_deg(track) + 5.0


@pytest.mark.parametrize(("yaw_deg", "off"), [(20.0, 20.0), (-100.0, 10.0)])
def test_in_front_the_landmarks_in_space_tell_it(yaw_deg: float, off: float):
    assert off_view_deg(a_track(0.3, yaw_deg, facing=0), FLY) == pytest.approx(off)


def test_where_hips_are_not_known_the_landmarks_in_space_tell_it():
    track = a_track(0.3, 62.0)
    track.points_px[:, INDEX["right_hip"]] = np.nan
    assert side_off_deg(track) == pytest.approx(28.0)


@pytest.mark.parametrize(
    ("yaw_deg", "apart", "refused"),
    [(38.0, 0.62, False), (38.0, 0.30, True), (50.0, 0.45, True), (30.0, 0.62, False)],
    ids=["told beyond, shoulders wide", "told beyond, shoulders narrow", "far beyond", "within"],
)
def test_a_view_is_refused_only_where_even_the_favourable_end_lies_beyond(yaw_deg, apart, refused) -> None:
    view = View("front" if yaw_deg <= OBLIQUE_DEG else "oblique", yaw_deg, yaw_deg)
    track = replace(a_track(apart, yaw_deg), view=view, facing=facing_of(view))
    track.points_px[:, INDEX["right_shoulder"]] = (360.0 + apart * TRUNK, 500.0)
    assert (least_off_view_deg(track, FLY) > THRESHOLDS.off_view_deg) == refused


@pytest.mark.parametrize(("share", "refused"), [(0.40, False), (0.44, True)])
def test_a_side_view_told_a_little_beyond_is_judged(share: float, refused: bool) -> None:
    track = a_track(share, 55.0)
    assert side_off_deg(track) > 35.0
    assert (least_off_view_deg(track, LEG) > THRESHOLDS.off_view_deg) == refused


def test_an_angle_is_less_sure_the_further_the_camera_stands_off() -> None:
    near, far = a_track(0.1, 85.0), a_track(0.33, 58.0)
    params = JointParams(joint="knee")
    halves = [clip_half_width("joint_angle", params, LEG, track, "deg", 4.0) for track in (near, far)]
    assert halves[0] == 4.0 and halves[1] == pytest.approx(np.hypot(4.0, side_off_deg(far) - 20.0))


def test_a_phase_is_less_sure_the_further_the_camera_stands_off() -> None:
    near, far = a_track(0.1, 85.0), a_track(0.33, 58.0)
    beyond = side_off_deg(far) - 20.0
    assert phase_half(near)(0.2) == 0.2
    assert phase_half(far)(0.2) == pytest.approx(np.hypot(0.2, 0.02 * beyond)) and beyond > 5.0
