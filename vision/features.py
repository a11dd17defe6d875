"""Landmark geometry that a learnt correction looks at, the same for every body, camera and side.

All lengths are over trunk length, the picture is mirrored so that a person in a side view faces
right and the near side is the same side, so that nothing depends on where or how large the person
is in the picture.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from shared.domain import Floats, Track
from shared.keypoints import Side, of_side
from vision.geometry import included_angle

#: The joint of each family of movements, from proximal to distal.
CHAINS: dict[str, tuple[str, str, str]] = {
    "leg": ("hip", "knee", "ankle"),
    "arm": ("shoulder", "elbow", "wrist"),
}
Points = Callable[[str], Floats]


def track_features(track: Track, family: str) -> Floats:
    """Features of every moment of a track, (T, F); NaN where a needed point is not known."""
    mirror = track.facing or (1 if track.near == "right" else -1)
    return features(track.xy, family, track.near, mirror, track.trunk_px, track.view.yaw_deg)


def features(points: Points, family: str, near: Side, mirror: int, trunk: float, yaw_deg: float) -> Floats:
    """Features (T, F) of points by name, each (T, 2) px.

    family: leg or arm; mirror: -1 when the picture is to be mirrored; trunk: trunk length in px. In
    side views only the near side is looked at: the far limb is mostly hidden, and hidden limbs are
    invented; nearer to a front or rear view both sides are.
    """
    flip = np.array([mirror, 1.0]) / trunk
    columns = _limb(points, near, family, flip)
    columns.append((points(f"{near}_shoulder") - points(f"{near}_hip")) * flip)
    if abs(abs(yaw_deg) - 90.0) > 45.0:
        far: Side = "right" if near == "left" else "left"
        columns += _limb(points, far, family, flip)
        for part in (CHAINS[family][0], CHAINS[family][2]):
            columns.append((points(of_side(part, far)) - points(of_side(part, near))) * flip)
    yaw = np.radians(abs(yaw_deg))
    columns.append(np.tile([np.sin(yaw), np.cos(yaw)], (len(columns[0]), 1)))
    return np.concatenate(columns, axis=1)


def _limb(points: Points, side: Side, family: str, flip: Floats) -> list[Floats]:
    """Both segments of one limb, their lengths, and the angle between them over 90 degrees."""
    chain = [points(of_side(part, side)) for part in CHAINS[family]]
    segments = [(b - a) * flip for a, b in pairwise(chain)]
    lengths = [np.linalg.norm(segment, axis=1, keepdims=True) for segment in segments]
    return [*segments, *lengths, included_angle(*chain)[:, None] / 90.0]
