"""How a camera in a hand moves, in drawn pictures whose every shift is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Floats
from tests.drawn import SIZE, DrawnClip
from tests.people import CLIP, landmarks, seated
from vision.seeing import camera_tracker
from vision.seeing.camera import CameraPath
from vision.seeing.camera_tracker import CameraMeter, room_corners
from vision.seeing.subject import Subject, find_subject

LOOK_S = 0.19
PLACE = np.array([300.0, 90.0])


def sway(t: float) -> tuple[float, float]:
    return 9.0 * np.sin(1.3 * t), 6.0 * np.sin(2.1 * t + 1.0)


def subject(at: tuple[float, float] = (100.0, 330.0)) -> Subject:
    """Somebody of whom 60 px are trunk, where the plate of a drawn clip is."""
    people = landmarks(seated(np.full(60, 100.0), at=at, trunk=60.0), rate_hz=5.0)
    found = find_subject(people, replace(CLIP, width=SIZE[0], height=SIZE[1]))
    assert found is not None
    return found


def path_of(source: DrawnClip, halves: bool = False) -> CameraPath | None:
    meter = CameraMeter(source, subject())
    middle = source.seconds / 2
    parts = ((0.0, middle), (middle - 1.0, None)) if halves else ((0.0, None),)
    for start, end in parts:
        assert len(list(meter.stream().steadied(source.frames(start, end, LOOK_S)))) > 15
    return meter.path()


@pytest.mark.parametrize("halves", [False, True])
@pytest.mark.parametrize("long_side_px", [480, 320])
def test_what_stands_in_the_room_keeps_its_place(
    halves: bool, long_side_px: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(camera_tracker, "LONG_SIDE_PX", long_side_px)
    source = DrawnClip(shake=sway)
    path = path_of(source, halves)
    assert path is not None and np.all(np.diff(path.time_s) > 0)
    seen = PLACE + np.array([sway(t) for t in path.time_s])
    there = np.einsum("nij,nj->ni", path.to_still[:, :, :2], seen) + path.to_still[:, :, 2]
    assert np.abs(there - np.median(there, axis=0)).max() < 0.5
    assert np.ptp(seen, axis=0).min() > 10.0


def test_a_phone_that_is_picked_up_at_the_end_is_not_taken_to_stand() -> None:
    """In two of thirty-three looks only."""
    path = path_of(DrawnClip(shake=lambda t: (90.0 * max(0.0, t - 6.03), 0.0)))
    assert path is not None
    assert abs(path.to_still[0, 0, 2]) < 0.5 and path.to_still[-1, 0, 2] < -20.0


def test_one_picture_that_is_told_wrong_moves_no_phone(monkeypatch: pytest.MonkeyPatch) -> None:
    step, seen = camera_tracker.Camera.step, iter(range(1000))

    def once_wrong(self: camera_tracker.Camera, gray: camera_tracker.Gray) -> Floats | None:
        there = step(self, gray)
        return (
            there if there is None or next(seen) != 20 else np.add(there, [[0.0, 0.0, 40.0], [0.0, 0.0, 0.0]])
        )

    monkeypatch.setattr(camera_tracker.Camera, "step", once_wrong)
    assert path_of(DrawnClip()) is None


def test_two_pictures_told_wrong_seconds_apart_move_no_phone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is known in between, so they are neighbours in the path."""
    step, seen = camera_tracker.Camera.step, iter(range(1000))
    wrong = np.array([[1.0, 0.0, 40.0], [0.0, 1.0, 0.0]])

    def hidden(self: camera_tracker.Camera, gray: camera_tracker.Gray) -> Floats | None:
        look = next(seen)
        return wrong if look in (12, 18) else None if 12 < look < 18 else step(self, gray)

    monkeypatch.setattr(camera_tracker.Camera, "step", hidden)
    assert path_of(DrawnClip()) is None


@pytest.mark.parametrize("halves", [False, True])
def test_a_phone_that_zooms_and_rolls_before_the_middle_is_followed_from_the_first_picture_on(
    halves: bool,
) -> None:
    def after(t: float) -> float:
        return float(np.clip((t - 1.5) / 0.8, 0.0, 1.0))

    source = DrawnClip(
        size=lambda t: 1.4 - 0.4 * after(t), roll=lambda t: 12.0 * after(t), height=lambda t: 0.0
    )
    path = path_of(source, halves)
    assert path is not None and path.time_s[0] == 0.0 and np.diff(path.time_s).max() < 2.0 * LOOK_S
    seen = np.array([source.place(t) for t in path.time_s])
    there = np.einsum("nij,nj->ni", path.to_still[:, :, :2], seen) + path.to_still[:, :, 2]
    assert np.linalg.norm(there - source.place(source.seconds / 2), axis=1).max() < 0.7
    assert np.ptp(seen, axis=0).min() > 20.0


def test_corners_that_the_picture_does_not_show_are_not_missed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Zoomed in, it shows fewer than half of the room's corners, most of them where they should be."""
    monkeypatch.setattr(camera_tracker, "AGREEING", 0.6)
    source = DrawnClip(size=lambda t: 1.4 if t < 2.0 else 1.0, gone=lambda t: True)
    path = path_of(source)
    assert path is not None and path.time_s[0] == 0.0


def test_a_phone_that_stands_moves_nothing_whatever_the_person_does() -> None:
    assert path_of(DrawnClip(height=lambda t: 120.0 * (1 - np.cos(2.0 * t)) / 2)) is None


def test_the_model_sees_what_a_phone_on_a_stand_would_have_taken_and_finds_it_where_it_is() -> None:
    source = DrawnClip(shake=sway, gone=lambda t: True)
    stream = CameraMeter(source, subject()).stream()
    frames = list(source.frames(min_step_s=LOOK_S))
    shown = list(stream.steadied(iter(frames)))
    inside = (slice(40, -40), slice(40, -40), 0)

    def differs(these: list) -> float:
        return float(np.std([f.image[inside].astype(float) for f in these], axis=0).mean())

    assert differs(shown) < 5.0 < 0.3 * differs(frames)
    time_s = np.array([f.time_s for f in frames])
    still = PLACE + np.array(sway(source.seconds / 2))
    points = np.zeros((len(frames), 33, 3))
    points[..., :2] = still
    found = landmarks(points, rate_hz=5.0)
    back = stream.put_back(replace(found, time_s=time_s)).image_px[:, 0, 0, :2]
    assert np.abs(back - PLACE - [sway(t) for t in time_s]).max() < 0.7


def test_of_two_streams_that_overlap_the_earlier_ones_word_counts() -> None:
    """Threads may come in any order; the result is the same."""
    source = DrawnClip(shake=sway)
    paths = []
    for order in (1, -1):
        meter = CameraMeter(source, subject())
        for start, end in [(0.0, 3.2), (2.2, None)][::order]:
            list(meter.stream().steadied(source.frames(start, end, LOOK_S)))
        path = meter.path()
        assert path is not None
        paths.append(path)
    np.testing.assert_array_equal(paths[0].time_s, paths[1].time_s)
    np.testing.assert_array_equal(paths[0].to_still, paths[1].to_still)


def test_a_stack_before_a_bare_wall_is_no_camera() -> None:
    """Two plates have more corners than the six small pictures on the wall; but those stand."""
    room = np.full((SIZE[1] + 80, SIZE[0] + 80), 120, np.uint8)
    for x, y in ((60, 60), (360, 70), (80, 480), (380, 500), (240, 60), (370, 300)):
        room[y : y + 18, x : x + 18] = 200
    source = DrawnClip(room=room, plates=2, plate_xy=(70.0, 200.0))
    meter = CameraMeter(source, subject(at=(250.0, 300.0)))
    list(meter.stream().steadied(source.frames(min_step_s=LOOK_S)))
    assert meter.path() is None


def test_while_the_room_does_not_tell_the_picture_before_has_to_do() -> None:
    """A hand before the lens for three pictures: the lifter may not seem to jump away and back."""
    source = DrawnClip(shake=sway)
    frames = [
        replace(frame, image=np.full_like(frame.image, 30)) if 2.0 < frame.time_s < 2.7 else frame
        for frame in source.frames(min_step_s=LOOK_S)
    ]
    stream = CameraMeter(source, subject()).stream()
    list(stream.steadied(iter(frames)))
    time_s = np.array([frame.time_s for frame in frames])
    points = np.zeros((len(frames), 33, 3))
    places = stream.put_back(replace(landmarks(points, rate_hz=5.0), time_s=time_s)).image_px[:, 0, 0, :2]
    hidden = (time_s > 2.0) & (time_s < 2.7)
    assert np.ptp(places[hidden], axis=0).max() == 0.0 < np.abs(places[hidden]).max()
    assert all(stream.seen[t] is None for t in time_s[hidden])


def test_a_bare_wall_tells_nothing() -> None:
    bare = np.full((SIZE[1] + 80, SIZE[0] + 80), 120, np.uint8)
    assert path_of(DrawnClip(shake=sway, room=bare)) is None


def test_a_clip_whose_pictures_show_the_room_too_seldom_tells_nothing() -> None:
    """For most of the clip somebody stands before the lens."""
    dark = DrawnClip(shake=sway)
    frames = [
        replace(frame, image=np.zeros_like(frame.image)) if frame.time_s > 2.0 else frame
        for frame in dark.frames(min_step_s=LOOK_S)
    ]
    meter = CameraMeter(replace(dark, seconds=3.0), subject())
    list(meter.stream().steadied(frames))
    assert meter.path() is None


def test_no_corner_is_taken_on_the_person() -> None:
    picture = next(DrawnClip().frames(gray=True)).image
    body = subject().poses_px[0]
    corners = room_corners(picture, body, 40)
    low, high = body.min(axis=0), body.max(axis=0)
    assert len(corners) > 20
    assert not ((corners > low) & (corners < high)).all(axis=1).any()


def test_between_its_moments_a_path_goes_straight_and_far_from_them_nobody_knows() -> None:
    path = CameraPath(np.array([1.0, 1.4, 4.0]), np.array([np.eye(2, 3), np.eye(2, 3) + 4.0, np.eye(2, 3)]))
    maps = path.at(np.array([0.0, 0.8, 1.1, 1.4, 2.7, 4.2, 9.0]))
    np.testing.assert_allclose(maps[:, 0, 2], [np.nan, 0.0, 1.0, 4.0, np.nan, 0.0, np.nan], atol=1e-9)
