"""An invented leisure-centre strength room: walls, floor, other machines as simple shapes."""

from __future__ import annotations

import numpy as np

from sample_clips.rendering.scene import box, cylinder, plane_grid

FLOOR, WALL, TRIM, STEEL, PAINT, PAD, POSTER, MAT = range(8)
HALF_M = 4.3
WALLS = ((0.55, 0.54, 0.5), (0.42, 0.46, 0.5), (0.62, 0.58, 0.5), (0.35, 0.42, 0.38), (0.5, 0.44, 0.42))
FLOORS = ((0.12, 0.12, 0.13), (0.22, 0.17, 0.12), (0.16, 0.18, 0.2), (0.28, 0.26, 0.24))
PAINTS = ((0.35, 0.04, 0.04), (0.05, 0.12, 0.35), (0.5, 0.4, 0.05), (0.3, 0.3, 0.32), (0.04, 0.25, 0.15))


def materials(seed):
    """Linear colours (8, 3) of a room."""
    rng = np.random.default_rng(seed)
    pick = lambda rows: np.array(rows[rng.integers(len(rows))])  # noqa: E731
    wall, floor, paint = pick(WALLS), pick(FLOORS), pick(PAINTS)
    return np.array(
        [floor, wall, wall * 0.55, (0.4, 0.41, 0.43), paint, (0.05, 0.05, 0.06), pick(PAINTS), floor * 0.6]
    )


#: The way from the camera, in the plane of the floor.
AWAY = {"side-left": (-1, 0), "side-right": (1, 0), "front": (0, 1), "rear": (0, -1)}


def room(seed, view, furnished=True):
    """Static meshes of the room, furnished away from the camera's side."""
    rng = np.random.default_rng(seed + 7)
    h, top = HALF_M, 3.0
    meshes = [
        plane_grid((-h, -h, 0), (2 * h, 0, 0), (0, 2 * h, 0), (24, 24), FLOOR),
        plane_grid((-h, h, 0), (2 * h, 0, 0), (0, 0, top), (12, 4), WALL),
        plane_grid((h, -h, 0), (-2 * h, 0, 0), (0, 0, top), (12, 4), WALL),
        plane_grid((h, h, 0), (0, -2 * h, 0), (0, 0, top), (12, 4), WALL),
        plane_grid((-h, -h, 0), (0, 2 * h, 0), (0, 0, top), (12, 4), WALL),
        plane_grid((-h, h, top), (2 * h, 0, 0), (0, -2 * h, 0), (12, 12), TRIM),
        box((0, -0.2, 0.004), (1.5, 2.4, 0.008), MAT),
    ]
    if not furnished:
        return meshes
    away = AWAY[view]
    across = np.array([away[1], -away[0]], float)
    for k in range(4):
        place = np.array(away) * rng.uniform(2.3, 3.5) + across * (-2.7 + 1.8 * k + rng.uniform(-0.3, 0.3))
        meshes += _furniture(place, rng)
    for k in range(3):
        spot = np.array(away) * (h - 0.03) + across * (-2.6 + 2.4 * k + rng.uniform(-0.4, 0.4))
        size = (0.04 if away[0] else 0.9, 0.04 if away[1] else 0.9, rng.uniform(0.5, 1.1))
        meshes.append(box((*spot, rng.uniform(1.5, 2.0)), size, POSTER if k % 2 else TRIM))
    return meshes


def _furniture(place, rng):
    x, y = place
    kind = rng.integers(3)
    if kind == 0:
        return [
            box((x, y, 0.9), (0.5, 0.5, 0.06), PAINT),
            box((x - 0.22, y, 0.9), (0.06, 0.5, 1.8), PAINT),
            box((x + 0.22, y, 0.9), (0.06, 0.5, 1.8), PAINT),
            box((x, y, 0.3), (0.34, 0.3, 0.5), PAD),
        ]
    if kind == 1:
        return [
            box((x, y, 0.45), (1.1, 0.32, 0.09), PAD),
            cylinder((x - 0.4, y, 0), (x - 0.4, y, 0.45), 0.04, STEEL),
            cylinder((x + 0.4, y, 0), (x + 0.4, y, 0.45), 0.04, STEEL),
            box((x, y, 0.03), (1.0, 0.1, 0.06), STEEL),
        ]
    rack = [box((x, y, z), (1.2, 0.35, 0.05), PAINT) for z in (0.35, 0.75, 1.1)]
    return rack + [
        cylinder((x - 0.5 + 0.25 * k, y - 0.1, z), (x - 0.5 + 0.25 * k, y + 0.12, z), 0.07, PAD)
        for k in range(5)
        for z in (0.46, 0.86)
    ]
