"""A drawing in a definition file: one person on one machine as the phone sees them, by points."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from shared.definition import Strict, Text

#: Size of the picture that points lie in, x to the right and y down; the floor is at 142.
WIDTH, HEIGHT = 120, 150
Point = tuple[Annotated[float, Field(ge=0, le=WIDTH)], Annotated[float, Field(ge=0, le=HEIGHT)]]
Line = Annotated[tuple[Point, ...], Field(min_length=2)]


class Drawing(Strict):
    """sees: what must be in the picture, in words; head: its middle; limbs: lines through joints.

    moving: the limb that must stay in the picture, drawn with its joints; machine: lines of its parts.
    """

    sees: Text
    head: Point
    limbs: Annotated[tuple[Line, ...], Field(min_length=1)]
    moving: Line
    machine: tuple[Line, ...] = ()
