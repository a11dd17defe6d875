"""Both ends of a repetition told by the whole limb, where the angle hardly changes."""

from __future__ import annotations

import numpy as np

from tests.people import CLIP, landmarks, seated
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.measuring.reps.ends import limb_course, told_by_limb
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.phases import Bounds
from vision.measuring.track.build import build_track
from vision.measuring.track.filters import butterworth

SET = SetTruth((RepTruth(1.6, 0.4, 2.0, 0.5),) * 6)
DRIVE = drive_signal(SET)
SHARE = (DRIVE.values - SET.low) / SET.range


def _bounds(load: np.ndarray) -> list[Bounds]:
    kept: list[Bounds] = []

    def keep(bounds: list[Bounds], load: np.ndarray, time_s: np.ndarray) -> list[Bounds]:
        kept.extend(bounds)
        return list(bounds)

    signal = drive_signal(SET)
    find_reps(type(signal)(**{**vars(signal), "values": load}), "rising", correct=keep)
    return kept


def _off(bounds: list[Bounds]) -> float:
    return float(np.abs(np.array(bounds) - np.array(SET.bounds())).mean())


def _stuck(share: np.ndarray) -> np.ndarray:
    """What an angle shows that does not change in the outer 15 % of the way at either end."""
    return SET.low + SET.range * np.clip((share - 0.15) / 0.7, 0, 1)


def test_a_hand_that_moves_tells_the_ends_that_the_angle_hides() -> None:
    rng = np.random.default_rng(1)
    angle, hand, idle = (butterworth(rng.normal(0, s, len(SHARE)), 30.0, 6.0) for s in (2.0, 0.008, 0.05))
    load = _stuck(SHARE) + angle
    course = np.column_stack([load / 60, 0.8 * SHARE + hand, idle])
    alone = _bounds(load)
    told, _ = told_by_limb(course, load, DRIVE.time_s, alone)
    assert _off(alone) > 0.3
    assert _off(told) < 0.15


def test_where_all_moves_alike_nothing_changes() -> None:
    alone = _bounds(DRIVE.values)
    told, fine = told_by_limb(DRIVE.values[:, None] / 60, DRIVE.values, DRIVE.time_s, alone)
    assert np.abs(np.array(told) - np.array(alone)).max() < 0.06
    assert np.abs(fine - DRIVE.values).max() < 0.12 * SET.range


def test_a_coordinate_that_is_seldom_known_says_nothing() -> None:
    alone = _bounds(DRIVE.values)
    wrong = np.where(np.arange(len(SHARE)) % 3 == 0, np.nan, SHARE)
    course = np.column_stack([DRIVE.values / 60, wrong])
    with_it, _ = told_by_limb(course, DRIVE.values, DRIVE.time_s, alone)
    without, _ = told_by_limb(course[:, :1], DRIVE.values, DRIVE.time_s, alone)
    assert with_it == without


def test_where_nothing_of_the_limb_is_known_the_bounds_stay_as_they_are() -> None:
    alone = _bounds(DRIVE.values)
    told, fine = told_by_limb(np.full((len(SHARE), 2), np.nan), DRIVE.values, DRIVE.time_s, alone)
    assert told == alone
    np.testing.assert_array_equal(fine, DRIVE.values)


def test_no_repetition_no_bounds() -> None:
    told, fine = told_by_limb(SHARE[:, None], DRIVE.values, DRIVE.time_s, [])
    assert told == []
    np.testing.assert_array_equal(fine, DRIVE.values)


def test_the_course_of_a_limb_does_not_depend_on_place_or_size_in_the_picture() -> None:
    poses = landmarks(seated(DRIVE.values[:150]))
    track = build_track(poses, CLIP, ("hip", "knee", "ankle"))
    assert track is not None
    course = limb_course(track, "leg", np.full(len(track.time_s), 60.0))
    assert course.shape == (len(track.time_s), 1 + 2 * 4 * 5)
    larger = type(track)(
        **{**vars(track), "points_px": 2 * track.points_px + 7, "trunk_px": 2 * track.trunk_px}
    )
    np.testing.assert_allclose(limb_course(larger, "leg", np.full(len(track.time_s), 60.0)), course)
