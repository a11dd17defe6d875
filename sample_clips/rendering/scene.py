"""Meshes: boxes, cylinders, lists of parts, all with bones and materials."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

FIELDS = 6
BOX_FACES = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))


@dataclass
class Mesh:
    """verts, normals (V, 3); bone_idx, bone_weight (V, 4); faces (F, 3); fields (V, 6); material (F,)."""

    verts: np.ndarray
    normals: np.ndarray
    bone_idx: np.ndarray
    bone_weight: np.ndarray
    faces: np.ndarray
    fields: np.ndarray
    material: np.ndarray


def merge(meshes):
    """One mesh of several (bones and materials already global)."""
    starts = np.cumsum([0] + [len(m.verts) for m in meshes[:-1]])
    joined = {
        key: np.concatenate([getattr(m, key) for m in meshes])
        for key in ("verts", "normals", "bone_idx", "bone_weight", "fields", "material")
    }
    joined["faces"] = np.concatenate([m.faces + s for m, s in zip(meshes, starts, strict=True)])
    return Mesh(**joined)


def rigid(corners, quads, material, bone=0):
    """Flat-shaded mesh from corners (N, 3) and outward quads of corner indices."""
    verts, normals, faces = [], [], []
    for quad in quads:
        p = corners[list(quad)]
        n = np.cross(p[1] - p[0], p[2] - p[0])
        base = len(verts)
        verts.extend(p)
        normals.extend([n / (np.linalg.norm(n) + 1e-12)] * 4)
        faces.extend([(base, base + 1, base + 2), (base, base + 2, base + 3)])
    return _plain(np.array(verts), np.array(normals), np.array(faces), material, bone)


def _plain(verts, normals, faces, material, bone):
    n = len(verts)
    weight = np.zeros((n, 4))
    weight[:, 0] = 1.0
    return Mesh(
        verts,
        normals,
        np.full((n, 4), bone),
        weight,
        faces,
        np.full((n, FIELDS), -1.0),
        np.full(len(faces), material),
    )


def box(centre, size, material, bone=0, turn=None):
    """Box of full size (3,) m about centre, turned by the rotation `turn` (3, 3)."""
    half = np.asarray(size, float) / 2
    signs = np.array([[i, j, k] for i in (-1, 1) for j in (-1, 1) for k in (-1, 1)], float)
    corners = signs * half
    if turn is not None:
        corners = corners @ turn.T
    return rigid(corners + np.asarray(centre, float), BOX_FACES, material, bone)


def cylinder(start, end, radius, material, bone=0, sides=14):
    """Round bar with flat ends between two points (3,) m."""
    start, end = np.asarray(start, float), np.asarray(end, float)
    frame = frame_along(end - start)
    angle = np.arange(sides) * 2 * np.pi / sides
    ring = np.cos(angle)[:, None] * frame[:, 0] + np.sin(angle)[:, None] * frame[:, 1]
    around = np.arange(sides)
    after = (around + 1) % sides
    verts = np.concatenate(
        [start + radius * ring, end + radius * ring, start + radius * ring, end + radius * ring]
    )
    axis = np.repeat(frame[:, 2][None], sides, 0)
    normals = np.concatenate([ring, ring, -axis, axis])
    side = np.concatenate(
        [np.stack([around, after, after + sides], 1), np.stack([around, after + sides, around + sides], 1)]
    )
    fan = np.stack([np.zeros(sides - 2, int), np.arange(1, sides - 1), np.arange(2, sides)], 1)
    faces = np.concatenate([side, fan[:, ::-1] + 2 * sides, fan + 3 * sides])
    return _plain(verts, normals, faces, material, bone)


def frame_along(direction):
    """Rotation (3, 3) whose third column is the unit direction."""
    z = np.asarray(direction, float)
    z = z / (np.linalg.norm(z) + 1e-12)
    helper = np.array([0.0, 0.0, 1.0]) if abs(z[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    x = np.cross(helper, z)
    x /= np.linalg.norm(x)
    return np.stack([x, np.cross(z, x), z], 1)


def plane_grid(origin, u, v, cells, material):
    """Rectangle origin + a u + b v as cells (n, m) of quads facing u x v."""
    origin, u, v = (np.asarray(a, float) for a in (origin, u, v))
    n, m = cells
    grid = [[origin + u * i / n + v * j / m for j in range(m + 1)] for i in range(n + 1)]
    corners = np.array(grid).reshape(-1, 3)
    quads = [
        (i * (m + 1) + j, (i + 1) * (m + 1) + j, (i + 1) * (m + 1) + j + 1, i * (m + 1) + j + 1)
        for i in range(n)
        for j in range(m)
    ]
    return rigid(corners, quads, material)
