"""Plane geometry of landmarks: included angles, signed or not, and angles from the vertical.

Arrays end in the coordinate axis; picture y points down. A NaN coordinate gives a NaN angle.
"""

from __future__ import annotations

import numpy as np

from shared.domain import Floats


def included_angle(a: Floats, vertex: Floats, b: Floats) -> Floats:
    """Angle at ``vertex`` between ``a`` and ``b``, degrees in 0..180; any number of dimensions."""
    u, v = a - vertex, b - vertex
    norms = np.linalg.norm(u, axis=-1) * np.linalg.norm(v, axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        cosine = np.sum(u * v, axis=-1) / norms
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def signed_included_angle(a: Floats, vertex: Floats, b: Floats, bend: int) -> Floats:
    """Included angle that reads above 180 once the joint has passed straight, degrees in 0..270.

    bend: +1 when the joint bends by turning the second segment clockwise in the picture (x right,
    y down), -1 when anticlockwise. Points (T, 2).
    """
    first, second = vertex - a, b - vertex
    cross = first[..., 0] * second[..., 1] - first[..., 1] * second[..., 0]
    dot = np.sum(first * second, axis=-1)
    flexion = bend * np.degrees(np.arctan2(cross, dot))
    return np.asarray(np.where(flexion < -90.0, 180.0 + flexion, 180.0 - flexion))


def from_vertical(lower: Floats, upper: Floats, facing: int) -> Floats:
    """Pitch of the line from lower to upper, degrees from upright, positive toward ``facing``."""
    rise = lower[..., 1] - upper[..., 1]
    forward = (upper[..., 0] - lower[..., 0]) * facing
    return np.asarray(np.degrees(np.arctan2(forward, rise)))


def distance(a: Floats, b: Floats) -> Floats:
    """Euclidean distance along the last axis."""
    return np.asarray(np.linalg.norm(a - b, axis=-1))
