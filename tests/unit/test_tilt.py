"""Tilt and roll of a camera from the upright edges of a room drawn through a pinhole."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.common.pinhole import Tilt, focal_px
from vision.seeing.tilt import find_tilt

SIZE = (480, 854)
FOCAL = focal_px(SIZE)


def room(down_deg: float, roll_deg: float, posts: int = 12, slanted: int = 0) -> np.ndarray:
    """Posts three to five metres off, as a camera with that tilt and roll sees them, (H, W) grey."""
    gray = np.full((SIZE[1], SIZE[0]), 200, np.uint8)
    rng = np.random.default_rng(5)
    down, roll = np.radians(down_deg), np.radians(roll_deg)

    def seen(x: float, up: float, ahead: float) -> np.ndarray:
        y, z = -up * np.cos(down) - ahead * np.sin(down), ahead * np.cos(down) - up * np.sin(down)
        px = np.array([x, y]) / z * FOCAL
        turn = np.array([[np.cos(roll), np.sin(roll)], [-np.sin(roll), np.cos(roll)]])
        return turn @ px + np.array([SIZE[0] - 1, SIZE[1] - 1]) / 2

    for x in np.linspace(-1.1, 1.1, posts):
        ahead, low = float(rng.uniform(3, 5)), float(rng.uniform(-1.0, -0.3))
        ends = [seen(x, low, ahead), seen(x, low + 1.2, ahead), seen(x + 0.08, low + 1.2, ahead)]
        corners = np.array([*ends, seen(x + 0.08, low, ahead)])
        cv2.fillPoly(gray, [np.round(corners * 16).astype(np.int32)], 60, cv2.LINE_AA, 4)
    for k in range(slanted):
        cv2.line(gray, (60 + 90 * k, 650), (90 + 90 * k, 800), 20, 5, cv2.LINE_AA)
    return gray


@pytest.mark.parametrize("roll_deg", [0.0, -2.0])
@pytest.mark.parametrize("down_deg", [0.0, 4.0, 10.0, -5.0])
def test_tilt_and_roll_come_back(down_deg: float, roll_deg: float) -> None:
    found = find_tilt(room(down_deg, roll_deg), FOCAL)
    assert found is not None
    assert found.down_deg == pytest.approx(down_deg, abs=1.0)
    assert found.roll_deg == pytest.approx(roll_deg, abs=0.5)


def test_a_few_leaning_things_hardly_pull_it() -> None:
    found = find_tilt(room(5.0, 0.0, slanted=3), FOCAL)
    assert found is not None and found.down_deg == pytest.approx(5.0, abs=2.0)


def test_a_picture_without_upright_edges_tells_nothing() -> None:
    blank = np.full((SIZE[1], SIZE[0]), 200, np.uint8)
    assert find_tilt(blank, FOCAL) is None
    assert find_tilt(room(5.0, 0.0, posts=2), FOCAL) is None


def test_levelled_sights_are_those_of_a_level_camera() -> None:
    level = Tilt(10.0, 0.0).level(np.array([[0.0, 0.0, 1.0]]))
    assert level[0] == pytest.approx([0.0, np.sin(np.radians(10)), np.cos(np.radians(10))])
    upright = np.array([[np.sin(np.radians(3)), np.cos(np.radians(3)), 0.0]])
    assert Tilt(0.0, 3.0).level(upright)[0] == pytest.approx([0.0, 1.0, 0.0], abs=1e-9)
