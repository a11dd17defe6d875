"""A still is known again in drawn pictures taken from nearer, from elsewhere and turned."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.drawn import SIZE, texture
from vision.seeing.known_again import KnownAgain

ROOM = cv2.GaussianBlur(texture(5, *SIZE, 14), (0, 0), 1.6)


def moved(size: float, turn_deg: float, there: tuple[float, float]) -> np.ndarray:
    way = cv2.getRotationMatrix2D((SIZE[0] / 2, SIZE[1] / 2), turn_deg, size)
    way[:, 2] += there
    return way


@pytest.mark.parametrize(
    ("size", "turn_deg", "there"),
    [(1.0, 0.0, (70.0, -40.0)), (1.6, 0.0, (0.0, 0.0)), (0.7, 25.0, (10.0, 0.0))],
)
def test_a_still_is_known_again(size: float, turn_deg: float, there: tuple[float, float]) -> None:
    true = moved(size, turn_deg, there)
    found = KnownAgain(ROOM, None).there(cv2.warpAffine(ROOM, true, SIZE))
    assert found is not None
    places = np.array([[90.0, 120.0, 1.0], [270.0, 360.0, 1.0]])
    assert np.abs(places @ (found - true).T).max() < 3.0


def test_all_details_in_one_spot_are_no_room() -> None:
    """They agree about any map that makes the still small enough."""
    assert KnownAgain(ROOM, None).there(cv2.warpAffine(ROOM, moved(0.45, 0.0, (0.0, 0.0)), SIZE)) is None


def test_another_room_is_not() -> None:
    assert KnownAgain(ROOM, None).there(cv2.GaussianBlur(texture(6, *SIZE, 14), (0, 0), 1.6)) is None


@pytest.mark.parametrize("still", [ROOM, np.full_like(ROOM, 90)])
def test_a_bare_wall_is_known_by_nothing(still: np.ndarray) -> None:
    assert KnownAgain(still, None).there(np.full_like(ROOM, 90)) is None


def test_who_walks_is_not_taken_for_the_room() -> None:
    """Somebody whose clothes have more details than the wall goes to the right; their part is not asked."""
    somebody = slice(100, 380), slice(60, 200)
    wall = np.where(ROOM > 150, 140, 110).astype(np.uint8)
    still, later = wall.copy(), wall.copy()
    still[somebody] = ROOM[somebody]
    later[100:380, 180:320] = ROOM[somebody]
    room = np.full_like(ROOM, 255)
    room[somebody] = 0
    found = KnownAgain(still, room).there(later)
    assert found is not None and np.abs(found[:, 2]).max() < 3.0
    taken = KnownAgain(still, None).there(later)
    assert taken is not None and abs(taken[0, 2] - 120.0) < 3.0
