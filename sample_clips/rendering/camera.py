"""Pinhole camera: world points in metres to pixels of the upright picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Camera:
    """A pinhole camera with square pixels, looking along its +z, x right, y down.

    rotation (3, 3) takes world directions to camera axes; position (3,) m;
    focal_px; centre_px (2,); width, height in pixels. Integer pixel
    coordinates are pixel centres, as in OpenCV.
    """

    rotation: np.ndarray
    position: np.ndarray
    focal_px: float
    centre_px: tuple[float, float]
    width: int
    height: int

    def project(self, points):
        """Project points (..., 3) m to pixels (..., 2); NaN behind the camera."""
        c = (np.asarray(points, float) - self.position) @ self.rotation.T
        z = np.where(c[..., 2] > 1e-3, c[..., 2], np.nan)
        return c[..., :2] / z[..., None] * self.focal_px + np.array(self.centre_px)

    def shake_homography(self, roll, pitch, yaw):
        """Pixel map of still picture -> picture of the camera turned by small angles (rad)."""
        k = np.array(
            [[self.focal_px, 0, self.centre_px[0]], [0, self.focal_px, self.centre_px[1]], [0, 0, 1.0]]
        )
        turn = np.array([[1, -roll, yaw], [roll, 1, -pitch], [-yaw, pitch, 1.0]])
        u, _, v = np.linalg.svd(turn)
        return k @ (u @ v) @ np.linalg.inv(k)


def apply_homography(h, points):
    """Map pixels (..., 2) by the homography h (3, 3)."""
    p = np.asarray(points, float)
    q = p @ h[:2, :2].T + h[:2, 2]
    return q / (p @ h[2, :2] + h[2, 2])[..., None]


VIEW_AZIMUTH = {"side-left": 0.0, "front": -90.0, "rear": 90.0, "side-right": 180.0}


def look_at(view, target, spec):
    """Camera for a view (see VIEW_AZIMUTH) of the target point (3,) m.

    `spec` is a `scenario.CameraSpec`. Yaw turns the camera about the target
    toward the lifter's front (from a side view) or left (from the others).
    """
    sign = {"side-left": -1.0, "side-right": 1.0, "front": 1.0, "rear": -1.0}[view]
    azimuth = np.radians(VIEW_AZIMUTH[view] + sign * spec.yaw_deg)
    flat = np.array([np.cos(azimuth), np.sin(azimuth), 0.0])
    position = np.array([target[0], target[1], 0.0]) + flat * spec.distance_m
    position[2] = spec.height_m
    aim = target + np.array([0.0, 0.0, spec.aim_up_m])
    forward = aim - position
    forward /= np.linalg.norm(forward)
    right = np.cross(forward, [0.0, 0.0, 1.0])
    right /= np.linalg.norm(right)
    roll = np.radians(spec.roll_deg)
    down = np.cross(forward, right)
    x = np.cos(roll) * right + np.sin(roll) * down
    y = np.cross(forward, x)
    focal = 0.5 * max(spec.width, spec.height) / np.tan(np.radians(spec.fov_deg) / 2)
    shift = spec.aim_right_m / spec.distance_m * focal
    centre = ((spec.width - 1) / 2 - shift, (spec.height - 1) / 2)
    return Camera(np.array([x, y, forward]), position, float(focal), centre, spec.width, spec.height)
