"""A set that is filmed from the hand is told like one that is filmed from a stand."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.exercise import exercise_names
from shared.report import FindingPart
from tests.people import CLIP, landmarks, seated
from tests.stick_sets import judge_landmarks, knee_motion
from vision.measuring.track.build import build_track
from vision.seeing.camera import CameraPath
from vision.telling.moving import moving_drawing
from vision.telling.overlay import _came_from, points_at

KNEE = knee_motion(8, lift_s=2.0, lower_s=3.0)
STILL = landmarks(seated(KNEE, pitch_deg=-8.0))
TRUNK = 200.0


def _held(size: float) -> tuple[Landmarks, CameraPath]:
    """The same set through a camera that wanders by so many px, turning a little."""
    t = STILL.time_s
    turn, move = 0.01 * np.sin(0.7 * t), size * np.column_stack([np.sin(0.9 * t), np.cos(1.7 * t)])
    turned = np.stack([np.cos(turn), -np.sin(turn), np.sin(turn), np.cos(turn)], axis=-1).reshape(-1, 2, 2)
    image = STILL.image_px.copy()
    image[..., :2] = np.einsum("tij,tpkj->tpki", turned, image[..., :2]) + move[:, None, None]
    back = turned.transpose(0, 2, 1)
    path = CameraPath(t, np.concatenate([back, -back @ move[..., None]], axis=2))
    return replace(STILL, image_px=image), path


def _told(people: Landmarks, camera: CameraPath | None = None) -> tuple:
    analysis = judge_landmarks(people, "leg-extension", camera=camera)
    flags = {(f.check, f.rep) for f in analysis.report.findings if f.verdict == "flag"}
    return analysis.report.count, analysis.report.quality.usable, flags


def test_who_wanders_with_the_phone_changes_nothing() -> None:
    held, camera = _held(0.3 * TRUNK)
    assert _told(held, camera) == _told(STILL)
    assert _told(held) != _told(STILL), "the test's camera wanders too little to matter"


def test_hips_on_the_seat_stay_there_while_the_phone_wanders() -> None:
    held, camera = _held(0.1 * TRUNK)
    alone, steadied = (
        judge_landmarks(held, "leg-extension", camera=one).signals["hips"].values for one in (None, camera)
    )
    assert np.nanmax(np.abs(alone)) > 0.05
    assert np.nanmax(np.abs(steadied)) < 0.01


def test_while_nobody_knows_how_the_phone_moved_no_hips_slide() -> None:
    held, camera = _held(0.3 * TRUNK)
    known = (camera.time_s < 15.0) | (camera.time_s > 27.0)
    path = CameraPath(camera.time_s[known], camera.to_still[known])
    assert not _told(held, path)[2] - _told(STILL)[2]
    hips = judge_landmarks(held, "leg-extension", camera=path).signals["hips"]
    assert np.isnan(hips.between(16.0, 26.0).values).all()
    assert not np.isnan(hips.between(2.0, 14.0).values).any()


def test_a_body_read_beside_itself_is_a_slip_though_the_phone_wanders() -> None:
    """For two looks, by less than the phone moves from look to look."""
    held, camera = _held(0.3 * TRUNK)
    looks = slice(2, None, 6)
    off = np.zeros(len(STILL.time_s))
    off[320:333] = 0.2 * TRUNK
    image = held.image_px + off[:, None, None, None] * [1.0, 0.0, 0.0]
    read = replace(
        held, image_px=image[looks], frame=held.frame[looks], time_s=held.time_s[looks],
        world_m=held.world_m[looks], visibility=held.visibility[looks], presence=held.presence[looks],
    )  # fmt: skip
    track = build_track(read, CLIP, ("hip", "knee", "ankle"), camera=camera)
    assert track is not None
    hips = track.xy("right_hip")[:, 0]
    assert np.nanmax(np.abs(hips - np.nanmedian(hips))) < 0.05 * TRUNK


def _slipped(at_s: float, still_after: bool = False) -> tuple[Landmarks, CameraPath]:
    """The same set through a phone that slips: it rolls by six degrees, slides, and zooms out by a fifth.

    still_after: its path leads to a picture from after that, which lies slanted.
    """
    late = (STILL.time_s >= at_s)[:, None, None]
    turn = np.radians(6.0)
    rolled = 0.8 * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    turned, move = np.where(late, rolled, np.eye(2)), np.where(late[..., 0], [90.0, 60.0], 0.0)
    image = STILL.image_px.copy()
    image[..., :2] = np.einsum("tij,tpkj->tpki", turned, image[..., :2]) + move[:, None, None]
    back = np.linalg.inv(turned)
    maps = np.concatenate([back, -back @ move[..., None]], axis=2)
    if still_after:
        maps = rolled @ maps
    return replace(STILL, image_px=image), CameraPath(STILL.time_s, maps)


@pytest.mark.parametrize("still_after", [False, True])
@pytest.mark.parametrize("exercise", exercise_names())
def test_level_and_lengths_are_those_of_the_room_after_the_phone_has_slipped(
    exercise: str, still_after: bool
) -> None:
    people, camera = _slipped(21.0, still_after)
    still, held = judge_landmarks(STILL, exercise), judge_landmarks(people, exercise, camera=camera)
    assert still.track is not None and held.track is not None
    assert held.track.trunk_px == pytest.approx(
        (0.8 if still_after else 1.0) * still.track.trunk_px, rel=0.01
    )
    clear_of_it = np.abs(still.track.time_s - 21.0) > 1.0
    for name, signal in still.signals.items():
        seen = held.signals[name].values
        near = 1.0 if signal.unit == "deg" else 0.02
        np.testing.assert_allclose(seen[clear_of_it], signal.values[clear_of_it], atol=near, err_msg=name)


def test_a_limb_is_drawn_where_it_lies_in_the_picture_after_the_phone_has_slipped() -> None:
    people, camera = _slipped(21.0)
    analysis = judge_landmarks(people, "leg-extension", camera=camera)
    played = json.loads(moving_drawing(analysis) or "{}")
    assert analysis.track is not None
    for time_s in (10.0, 35.0):
        seen = people.image_px[np.searchsorted(people.time_s, time_s - 1e-6), 0, 11, :2]
        np.testing.assert_allclose(points_at(analysis.track, time_s, 1.0)["left_shoulder"], seen, atol=1.5)
        row = round((time_s - played["start_s"]) * played["rate_hz"])
        np.testing.assert_allclose(played["points"]["left_shoulder"][2 * row : 2 * row + 2], seen, atol=2.0)


def test_where_hips_came_from_is_told_in_the_room() -> None:
    """They slid forward by 30 px, after the phone had slid by more the other way."""
    points = seated(np.full(300, 100.0))
    points[200:, :, 0] += 30.0
    track = build_track(landmarks(points), CLIP, ("hip", "knee", "ankle"))
    assert track is not None
    late = track.time_s > 6.0
    to_picture = np.tile(np.eye(2, 3), (len(late), 1, 1))
    to_picture[late, 0, 2] = -90.0
    moved = replace(track, to_picture=to_picture, placed=np.ones(len(late), dtype=bool))
    found = FindingPart(
        check="hip-slide", rep=None, time_s=9.0, frame=270, verdict="flag", measured=30.0 / track.trunk_px,
        uncertainty=0.01, unit="trunk_fraction", limit=0.06, prompt=None, reason=None, points=["left_hip"],
        title="Sliding",
    )  # fmt: skip
    now_x = points_at(moved, 9.0, 1.0)["left_hip"][0]
    assert _came_from(found, moved, now_x, 1.0) == pytest.approx(now_x - 30.0, abs=2.0)
