"""Landmark geometry that a learnt correction looks at, the same for every body, camera and side.

All lengths are over trunk length, the picture is mirrored so that a person in a side view faces
right and the near side is the same side, and angles enter as they are measured, so that nothing
depends on where or how large the person is in the picture.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from shared.domain import Floats, Track
from shared.keypoints import Side, of_side
from vision.geometry import included_angle

#: Segments of each family of movements, from proximal to distal.
CHAINS: dict[str, tuple[str, ...]] = {
    "leg": ("hip", "knee", "ankle", "foot_index"),
    "arm": ("shoulder", "elbow", "wrist", "index"),
}
_JOINT = {"leg": ("hip", "knee", "ankle"), "arm": ("shoulder", "elbow", "wrist")}


def features(track: Track, family: str) -> Floats:
    """Features of every moment, (T, F); NaN where a needed point is not known.

    In side views the near side only: the far limb is mostly hidden, and hidden limbs are invented.
    """
    near = track.near
    mirror = float(track.facing or (1 if near == "right" else -1))
    columns = [*_chain(track, near, family, mirror), _trunk(track, near, mirror)]
    columns += [_world_angle(track, near, family)[:, None], _view(track)]
    if not track.facing:
        far: Side = "right" if near == "left" else "left"
        columns += [*_chain(track, far, family, mirror), _world_angle(track, far, family)[:, None]]
        columns.append(_across(track, family, mirror))
    return np.concatenate(columns, axis=1)


def _chain(track: Track, side: Side, family: str, mirror: float) -> list[Floats]:
    """Segment vectors of one limb and its angle in the picture."""
    points = [track.xy(of_side(part, side)) for part in CHAINS[family]]
    segments = [_vector(a, b, mirror, track.trunk_px) for a, b in pairwise(points)]
    angle = included_angle(*(track.xy(of_side(part, side)) for part in _JOINT[family]))
    return [*segments, angle[:, None] / 90.0]


def _vector(a: Floats, b: Floats, mirror: float, scale: float) -> Floats:
    return (b - a) / scale * np.array([mirror, 1.0])


def _trunk(track: Track, near: Side, mirror: float) -> Floats:
    return _vector(track.xy(f"{near}_hip"), track.xy(f"{near}_shoulder"), mirror, track.trunk_px)


def _across(track: Track, family: str, mirror: float) -> Floats:
    """From the near to the far root of the limb, and its ends' distance."""
    root, _, end = _JOINT[family]
    far = "right" if track.near == "left" else "left"
    roots = _vector(track.xy(f"{track.near}_{root}"), track.xy(f"{far}_{root}"), mirror, track.trunk_px)
    ends = _vector(track.xy(f"{track.near}_{end}"), track.xy(f"{far}_{end}"), mirror, track.trunk_px)
    return np.concatenate([roots, ends], axis=1)


def _world_angle(track: Track, side: Side, family: str) -> Floats:
    """Included angle of the model's own three-dimensional guess, over 90 degrees."""
    return included_angle(*(track.xyz(of_side(part, side)) for part in _JOINT[family])) / 90.0


def _view(track: Track) -> Floats:
    """Sine and cosine of the camera's turn, signs taken off: mirrored views are one."""
    yaw = np.radians(abs(track.view.yaw_deg))
    return np.tile([np.sin(yaw), np.cos(yaw)], (len(track.time_s), 1))
