"""The renderer's camera against OpenCV's projection."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.rendering.camera import apply_homography, look_at
from sample_clips.rendering.scenario import VIEWS
from sample_clips.rendering.specs import CameraSpec

cv2 = pytest.importorskip("cv2", reason="OpenCV is not installed")


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("yaw", [-30.0, 0.0, 17.0])
def test_projection_equals_projectpoints(view, yaw):
    spec = CameraSpec(
        view=view, yaw_deg=yaw, roll_deg=3.0, height_m=1.4, width=480, height=854, aim_right_m=0.2
    )
    camera = look_at(view, np.array([0.0, -0.3, 0.95]), spec)
    points = np.random.default_rng(1).uniform(-0.9, 0.9, (50, 3)) + np.array([0, 0, 1])
    k = np.array(
        [[camera.focal_px, 0, camera.centre_px[0]], [0, camera.focal_px, camera.centre_px[1]], [0, 0, 1]]
    )
    turn, _ = cv2.Rodrigues(camera.rotation)
    seen, _ = cv2.projectPoints(points, turn, -camera.rotation @ camera.position, k, None)
    np.testing.assert_allclose(camera.project(points), seen[:, 0], atol=1e-6)


def test_shake_is_a_turn_of_the_camera():
    spec = CameraSpec(view="front")
    camera = look_at("front", np.array([0.0, 0.0, 1.0]), spec)
    h = camera.shake_homography(0.004, -0.003, 0.006)
    k = np.array(
        [[camera.focal_px, 0, camera.centre_px[0]], [0, camera.focal_px, camera.centre_px[1]], [0, 0, 1]]
    )
    turn = np.linalg.inv(k) @ h @ k
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-9)
    assert np.linalg.norm(apply_homography(h, np.array([[240.0, 427.0]])) - [240.0, 427.0]) < 10


def test_the_left_side_view_sees_the_lifter_face_left():
    camera = look_at("side-left", np.array([0.0, 0.0, 1.0]), CameraSpec(view="side-left"))
    assert camera.position[0] > 0
    front, back = camera.project(np.array([[0, -0.5, 1.0], [0, 0.5, 1.0]]))
    assert front[0] < back[0]
