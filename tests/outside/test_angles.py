"""Our angles against scipy's Rotation and pytransform3d (BSD-3), and what must leave them alone.

Held: the angles of ``vision.common.geometry``; against scipy's Rotation and pytransform3d.

Poses are made by turning segments by known rotations; the angles of pytransform3d come from its
``rotations.angle_between_vectors``, code that shares nothing with ours. Conventions (included
angle, 180 = straight) are those of DEVELOPERS.md.
"""

from __future__ import annotations

import importlib
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from tests.outside.registry import wheel
from vision.common.geometry import from_vertical, included_angle, signed_included_angle

RANDOM = np.random.default_rng(11)
N = 200


def _unit(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def _joints(flexion_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Three points a joint in space, bent by the given flexion about random axes; (N, 3) each."""
    n = len(flexion_deg)
    vertex = RANDOM.normal(size=(n, 3))
    first = _unit(RANDOM.normal(size=(n, 3)))
    axis = _unit(np.cross(first, RANDOM.normal(size=(n, 3))))
    second = Rotation.from_rotvec(axis * flexion_deg[:, None], degrees=True).apply(first)
    lengths = RANDOM.uniform(0.2, 0.6, size=(2, n, 1))
    return vertex - lengths[0] * first, vertex, vertex + lengths[1] * second


def _about_view(degrees: np.ndarray) -> Rotation:
    """Rotations about the axis into the picture: x right, y down, so positive is clockwise."""
    return Rotation.from_rotvec(degrees[:, None] * np.array([0.0, 0.0, 1.0]), degrees=True)


def test_an_included_angle_in_space_is_180_less_the_rotation():
    flexion = RANDOM.uniform(0.5, 179.5, N)
    assert included_angle(*_joints(flexion)) == pytest.approx(180.0 - flexion, abs=1e-6)


def test_included_angles_agree_with_an_independent_library(monkeypatch):
    monkeypatch.syspath_prepend(str(wheel("pytransform3d", "3.17.0")))
    other = importlib.import_module("pytransform3d.rotations")
    a, vertex, b = RANDOM.normal(size=(3, N, 3))
    theirs = [
        np.degrees(other.angle_between_vectors(u, v)) for u, v in zip(a - vertex, b - vertex, strict=True)
    ]
    assert included_angle(a, vertex, b) == pytest.approx(np.array(theirs), abs=1e-6)


@pytest.mark.parametrize("bend", [1, -1])
def test_a_signed_angle_in_the_plane_is_180_less_the_rotation(bend):
    flexion = RANDOM.uniform(-30.0, 170.0, N)
    first = _unit(RANDOM.normal(size=(N, 2))) * RANDOM.uniform(50, 300, size=(N, 1))
    in_space = np.concatenate([first, np.zeros((N, 1))], axis=1)
    second = _about_view(bend * flexion).apply(in_space)[:, :2]
    vertex = RANDOM.uniform(0, 1000, size=(N, 2))
    got = signed_included_angle(vertex - first, vertex, vertex + second, bend)
    assert got == pytest.approx(180.0 - flexion, abs=1e-6)


@pytest.mark.parametrize("facing", [1, -1])
def test_trunk_pitch_is_the_rotation_from_upright_toward_the_front(facing):
    pitch = RANDOM.uniform(-80, 80, N)
    hip = RANDOM.uniform(0, 1000, size=(N, 2))
    up = np.array([0.0, -1.0, 0.0])
    trunk = _about_view(facing * pitch).apply(up)[:, :2] * 200.0
    assert from_vertical(hip, hip + trunk, facing) == pytest.approx(pitch, abs=1e-6)


coordinate = st.floats(-1000, 1000)
point = st.tuples(coordinate, coordinate).map(np.array)


joint = st.tuples(point, point, point)


def _apart(*points: np.ndarray) -> bool:
    return all(np.linalg.norm(p - q) > 1.0 for p, q in pairwise(points))


def _off_the_fold(points: tuple[np.ndarray, ...]) -> bool:
    """A signed angle jumps where flexion passes -90; there neither side is wrong."""
    signed = float(signed_included_angle(*points, 1))
    return min(abs(signed - 270.0), abs(signed - 90.0)) > 0.01


def _turn(degrees: float, points: tuple[np.ndarray, ...]) -> list[np.ndarray]:
    matrix = Rotation.from_rotvec([0.0, 0.0, degrees], degrees=True).as_matrix()[:2, :2]
    return [p @ matrix.T for p in points]


def _same(a: float, b: float) -> bool:
    """Equal as directions."""
    return abs((a - b + 180.0) % 360.0 - 180.0) < 1e-4


@settings(max_examples=100, deadline=None)
@given(joint, st.floats(0.1, 10), point, st.floats(-180, 180))
def test_angles_ignore_scale_shift_and_camera_roll(points, scale, shift, roll):
    assume(_apart(*points) and _off_the_fold(points))
    moved = [scale * p + shift for p in _turn(roll, points)]
    assert _same(float(included_angle(*points)), float(included_angle(*moved)))
    assert _same(float(signed_included_angle(*points, 1)), float(signed_included_angle(*moved, 1)))


@settings(max_examples=100, deadline=None)
@given(joint)
def test_a_mirrored_picture_gives_the_same_angles_when_the_sides_are_told_so(points):
    assume(_apart(*points) and _off_the_fold(points))
    mirrored = [p * np.array([-1.0, 1.0]) for p in points]
    assert _same(float(included_angle(*points)), float(included_angle(*mirrored)))
    assert _same(float(signed_included_angle(*points, 1)), float(signed_included_angle(*mirrored, -1)))
    hip, shoulder = points[:2]
    assert _same(float(from_vertical(hip, shoulder, 1)), float(from_vertical(*mirrored[:2], -1)))


@settings(max_examples=100, deadline=None)
@given(point, point, st.floats(-45, 45))
def test_a_rolled_camera_shifts_the_trunk_pitch_by_its_roll(hip, shoulder, roll):
    assume(_apart(hip, shoulder))
    rolled = _turn(roll, (hip, shoulder))
    assert _same(float(from_vertical(*rolled, 1)), float(from_vertical(hip, shoulder, 1)) + roll)
