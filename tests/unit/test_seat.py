"""Hips of a seated person keep their height; what slides on the seat still slides."""

from __future__ import annotations

from dataclasses import replace

import handmade
import numpy as np
import pytest

from shared.domain import Track, View
from shared.exercise import exercise_names, find_exercise
from shared.keypoints import INDEX, MIRRORED
from tests.people import CLIP, landmarks, seated
from vision.measuring.measure import _tracks
from vision.measuring.track.build import build_track
from vision.measuring.track.seat import FORWARD_PER_RISE, beside_seat_share, on_seat
from vision.telling.pictures import measured_on

KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * np.arange(300) / 90.0)
LEG = find_exercise("leg-extension")


def track(facing: int = 1, drop_px: float = 0.0, slide_px: float = 0.0) -> Track:
    """A seated set; in its second half the hips are told too low along the slant, or slide forward."""
    points = seated(KNEE, facing=facing)
    for side in ("left", "right"):
        points[150:, INDEX[f"{side}_hip"], 1] += drop_px
        points[150:, INDEX[f"{side}_hip"], 0] += facing * (slide_px - FORWARD_PER_RISE * drop_px)
    near = "right" if facing > 0 else "left"
    built = build_track(landmarks(points, near=near), CLIP, LEG.limbs)
    assert built is not None
    assert built.facing == facing
    return built


def hip(one: Track) -> np.ndarray:
    return one.xy(f"{one.near}_hip")


@pytest.mark.parametrize("facing", [1, -1])
@pytest.mark.parametrize("drop_px", [30.0, -30.0])
def test_a_jump_along_the_slant_is_taken_back(facing: int, drop_px: float) -> None:
    jumped, steady = on_seat(track(facing, drop_px)), track(facing)
    moved = hip(jumped) - hip(steady)
    early, late = moved[20:130].mean(axis=0), moved[170:280].mean(axis=0)
    np.testing.assert_allclose(late, early, atol=1.0)


@pytest.mark.parametrize("facing", [1, -1])
def test_a_slide_along_the_seat_is_kept(facing: int) -> None:
    slid = hip(on_seat(track(facing, slide_px=20.0)))
    assert facing * (slid[200:, 0].mean() - slid[:100, 0].mean()) == pytest.approx(20.0, abs=1.0)


def test_a_shaking_camera_moves_nothing_against_the_knee() -> None:
    steady = track()
    shake = 5.0 * np.sin(np.arange(len(steady.time_s)) / 7.0)[:, None, None] * [0.0, 1.0]
    shaken = on_seat(replace(steady, points_px=steady.points_px + shake))
    apart = shaken.xy("right_hip") - shaken.xy("right_knee")
    np.testing.assert_allclose(apart, on_seat(steady).xy("right_hip") - steady.xy("right_knee"), atol=1e-6)


def test_front_and_rear_views_are_left_alone() -> None:
    front = replace(track(drop_px=30.0), facing=0, view=View("front", 0.0, 0.0))
    assert on_seat(front) is front


def test_hips_that_are_not_known_stay_unknown() -> None:
    gone = track()
    points = gone.points_px.copy()
    points[:, INDEX["left_hip"]] = np.nan
    points[40:60, INDEX["right_hip"]] = np.nan
    seat = on_seat(replace(gone, points_px=points))
    assert np.isnan(seat.xy("left_hip")).all()
    assert np.array_equal(np.isnan(seat.xy("right_hip")), np.isnan(points[:, INDEX["right_hip"]]))


def test_only_machines_whose_seat_carries_the_thighs_say_so() -> None:
    assert {n for n in exercise_names() if find_exercise(n).thighs_on_seat} == {"leg-curl", "leg-extension"}


@pytest.mark.parametrize("machine", ["leg-extension", "chest-press"])
def test_posture_is_measured_on_the_seat_where_thighs_lie_there_and_the_drive_as_it_is_seen(machine) -> None:
    jumped, exercise = track(drop_px=30.0), find_exercise(machine)
    tracks = _tracks(jumped, exercise)
    assert tracks[exercise.drive.signal] is jumped
    wanted = on_seat(jumped) if machine == "leg-extension" else jumped
    np.testing.assert_array_equal(tracks["trunk"].points_px, wanted.points_px)


def test_pictures_are_drawn_on_what_was_measured() -> None:
    made = handmade.analysis()
    other = replace(made.track, near="left")
    analysis = replace(made, tracks={"trunk": other, "knee": made.track})
    flag = {f.check: f for f in made.report.flags()}
    assert measured_on(analysis, flag["chest-drop"]) is other
    assert measured_on(analysis, flag["knee-lockout"]) is made.track
    assert measured_on(analysis, flag["dropped-load"]) is made.track


def elsewhere(spells: dict[tuple[int, int], float]) -> Track:
    """A seated set; in spells (samples) the whole body is read so many trunk lengths to the right."""
    points = seated(KNEE)
    for (start, stop), trunks in spells.items():
        points[start:stop, :, 0] += 200.0 * trunks
    built = build_track(landmarks(points), CLIP, LEG.limbs)
    assert built is not None
    return replace(built, points_px=points[..., :2], trunk_px=200.0)


@pytest.mark.parametrize(
    ("spells", "share"),
    [
        ({}, 0.0),
        ({(120, 180): 0.5}, 0.2),
        ({(120, 180): 0.1}, 0.0),
        ({(120, 180): 1.5}, 0.0),
        ({(0, 60): 0.5, (240, 300): 0.5}, 0.0),
    ],
    ids=["on the seat", "beside it", "shifting on it", "somewhere else", "before and after"],
)
def test_hips_read_beside_the_seat_are_somebody_elses(spells, share) -> None:
    assert beside_seat_share(elsewhere(spells)) == pytest.approx(share)


def test_left_read_for_right_is_no_other_place() -> None:
    one = elsewhere({})
    points = one.points_px.copy()
    points[:, [INDEX["left_hip"], INDEX["left_shoulder"]], 0] += 100.0
    points[100:200] = points[100:200][:, MIRRORED]
    assert beside_seat_share(replace(one, points_px=points)) == 0.0


def test_hips_that_slide_alone_are_the_lifters_own() -> None:
    one = elsewhere({})
    points = one.points_px.copy()
    points[100:200, [INDEX["left_hip"], INDEX["right_hip"]], 0] += 60.0
    assert beside_seat_share(replace(one, points_px=points)) == 0.0
