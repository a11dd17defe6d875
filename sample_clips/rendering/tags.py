"""Printed tags on a rendered machine, where its trainer would stick them: a sheet of paper each.

A scenario asks for them with ``conditions = ["tags"]``. The board hangs on the tower above the stack, the
stack's tag stands on the top plate, the lever's lies on its arm; all face the view's side of the machine.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np

from sample_clips.rendering.scene import rigid
from shared.tags import (
    BOARD_COLUMNS,
    BOARD_ROWS,
    QUIET_SHARE,
    SIDE_CM,
    SQUARE_CM,
    black_cells,
    board_squares,
    tag_id,
)

EXERCISES = Path(__file__).parents[2] / "shared" / "exercises"
#: Ink lies this far above its paper, paper above what it is stuck on, m.
ABOVE_M, OFF_M = 0.001, 0.012
#: Which way the tags face, as (right, out) for who looks at them; up is up.
FACES = {
    "side-left": ((0, 1, 0), (1, 0, 0)),
    "side-right": ((0, -1, 0), (-1, 0, 0)),
    "front": ((1, 0, 0), (0, -1, 0)),
    "rear": ((-1, 0, 0), (0, 1, 0)),
}
UP = np.array([0.0, 0.0, 1.0])
BOARD_M = 1.22


def add_tags(machine, paper, ink):
    """Put the sheets on; returns the board's middle (3,) m and the way it faces (3,)."""
    scenario = machine.motion.scenario
    number = tomllib.loads((EXERCISES / f"{scenario.exercise}.toml").read_text())["tag_number"]
    right, out = (np.array(v, float) for v in FACES[scenario.camera.view])
    half = np.abs(out) @ np.array([0.155, 0.105, 0.0]) + OFF_M

    def tag(place, centre):
        return sheet(tag_id(number, place), SIDE_CM[place], centre, right, paper, ink)

    machine.stack_part += tag("stack", out * half + UP * 0.035)
    if machine.lever_part and abs(out[0]):
        lateral, reach = machine.lever_arm
        machine.lever_part += tag("lever", np.array([lateral, 0.0, -0.5 * reach]) + out * 0.03)
    x, y = machine.tower
    board = np.array([x, y, BOARD_M]) + out * (np.abs(out) @ np.array([0.05, 0.18, 0.0]) + OFF_M)
    machine.static += board_sheet(number, board, right, paper, ink)
    return board, out


def sheet(marker, side_cm, centre, right, paper, ink):
    """One marker with its white edge, as flat meshes."""
    side = side_cm / 100
    return [
        _patch(centre, right, (1 + 2 * QUIET_SHARE) * side, paper),
        _cells(marker, side, centre, right, ink),
    ]


def board_sheet(number, centre, right, paper, ink):
    """The frame board on its sheet of A4, as flat meshes."""
    square, side = SQUARE_CM / 100, SIDE_CM["board"] / 100
    left, top = (BOARD_COLUMNS - 1) / 2, (BOARD_ROWS - 1) / 2
    out = np.cross(right, UP)
    meshes = [_patch(centre - ABOVE_M * out, right, 0.21, paper, 0.297)]
    for row, column, index in board_squares():
        at = centre + square * ((column - left) * right + (top - row) * UP)
        if index is None:
            meshes.append(_patch(at + ABOVE_M * out, right, square, ink))
        else:
            meshes.append(_cells(tag_id(number, "board", index), side, at, right, ink))
    return meshes


def _cells(marker, side, centre, right, ink):
    step = side / 6
    corners, quads = [], []
    for row, column in black_cells(marker):
        at = centre + step * ((column - 2.5) * right + (2.5 - row) * UP) + ABOVE_M * np.cross(right, UP)
        quads.append(range(len(corners), len(corners) + 4))
        corners += _square(at, right, step, step)
    return rigid(np.array(corners), quads, ink)


def _patch(centre, right, width, material, height=None):
    return rigid(np.array(_square(centre, right, width, height or width)), [range(4)], material)


def _square(centre, right, width, height):
    a, b = right * width / 2, UP * height / 2
    return [centre - a - b, centre + a - b, centre + a + b, centre - a + b]
