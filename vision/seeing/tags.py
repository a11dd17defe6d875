"""The paths of printed tags through a clip.

``vision/seeing/tag_tracker.py`` follows them. A tag's path is a mark's path, so that what reads marks reads
tags as well: "stack" in place of a mark on the stack, "lever" and "board" beside the others.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import cast

import numpy as np

from shared.domain import Floats
from shared.tags import SIDE_CM, TagPlace
from vision.seeing.marks import MarkName, MarkPath, MarkPoint


@dataclass(frozen=True)
class TagPath(MarkPath):
    """The path of a tag: the middle of its corners, as a mark's.

    corners_px (F, N, 2): with the camera's own motion taken out, as ``steady_px``: a tag's four from its top
    left on, clockwise, or those of the board's markers, four each; NaN where not known.
    """

    corners_px: Floats = field(default_factory=lambda: np.empty((0, 4, 2)))

    @property
    def place(self) -> TagPlace:
        """Where on the machine it is stuck."""
        return cast("TagPlace", self.point.name)

    @property
    def side_cm(self) -> float:
        """Side of the black square as printed."""
        return SIDE_CM[self.place]

    @property
    def cm_per_px(self) -> float:
        """Centimetres to a pixel along the picture's upright, where the tag is; NaN where never seen."""
        sides = self.corners_px[:, [1, 2, 3, 0]] - self.corners_px
        upright = np.abs(sides[..., 1]) > np.abs(sides[..., 0])
        lengths = np.linalg.norm(sides, axis=2)[upright]
        return self.side_cm / float(np.median(lengths)) if len(lengths) else float("nan")


def tag_point(place: TagPlace, xy: Floats, time_s: float) -> MarkPoint:
    """Where a tag was first seen, as a mark is given."""
    return MarkPoint(cast("MarkName", place), float(xy[0]), y=float(xy[1]), time_s=time_s)
