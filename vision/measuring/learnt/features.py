"""Landmark geometry that a learnt correction looks at, the same for every body, camera and side.

All lengths are over trunk length, the picture is mirrored so that a person in a side view faces
right and the near side is the same side, so that nothing depends on where or how large the person
is in the picture.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from shared.domain import Floats, Track
from shared.exercise import Exercise
from shared.keypoints import INDEX, Side, of_side
from vision.common.geometry import included_angle

#: The joint of each family of movements, from proximal to distal.
CHAINS: dict[str, tuple[str, str, str]] = {
    "leg": ("hip", "knee", "ankle"),
    "arm": ("shoulder", "elbow", "wrist"),
}

#: So many features, the last, are what a limb's lengths tell: nearly the same throughout a set.
BY_LENGTHS = 8
#: A limb or segment is as long as it seems at most in so many of a hundred moments.
LONGEST_PERCENTILE = 95


def family_of(exercise: Exercise) -> str:
    """Which limb an exercise drives: leg or arm."""
    return "leg" if exercise.drive_joint in ("knee", "hip") else "arm"


def track_features(track: Track, family: str, raw: Floats) -> Floats:
    """Features of every moment of a track, (T, F); NaN where a needed point is not known.

    raw (T,): the uncorrected drive angle. In side views only the near limb is looked at: the far one
    is mostly hidden, and hidden limbs are invented; nearer to a front or rear view both are.
    """
    flip = np.array([track.facing or (1 if track.near == "right" else -1), 1.0]) / track.trunk_px
    yaw = np.radians(abs(track.view.yaw_deg))
    columns = [raw[:, None] / 90.0, np.tile([np.sin(yaw), np.cos(yaw)], (len(raw), 1))]
    near = _limb(track, track.near, family=family, flip=flip)
    columns += near
    columns.append((track.xy(f"{track.near}_shoulder") - track.xy(f"{track.near}_hip")) * flip)
    if not track.view.is_side:
        far: Side = "right" if track.near == "left" else "left"
        columns += _limb(track, far, family=family, flip=flip)
        for part in (CHAINS[family][0], CHAINS[family][2]):
            columns.append((track.xy(of_side(part, far)) - track.xy(of_side(part, track.near))) * flip)
    return np.concatenate([*columns, _by_lengths(*near[:2])], axis=1)


def _limb(track: Track, side: Side, family: str, flip: Floats) -> list[Floats]:
    """Both segments of one limb, their lengths, and the angle of its world landmarks over 90 degrees."""
    names = [of_side(part, side) for part in CHAINS[family]]
    segments = [(track.xy(b) - track.xy(a)) * flip for a, b in pairwise(names)]
    lengths = [np.linalg.norm(segment, axis=1, keepdims=True) for segment in segments]
    world = included_angle(*(track.world_m[:, INDEX[name]] for name in names))
    return [*segments, *lengths, world[:, None] / 90.0]


def _by_lengths(upper: Floats, lower: Floats) -> Floats:
    """How far a limb reaches and what its lengths tell of its joint, both segments (T, 2) given: (T, 8).

    The reach, it and each segment over the longest that they were seen, these, and the included angle over
    90 degrees that such a limb has with such a reach in the picture's plane (law of cosines).
    """
    seen = np.column_stack([np.linalg.norm(part, axis=1) for part in (upper + lower, upper, lower)])
    known = ~np.isnan(seen).any(axis=1)
    if not known.any():
        return np.full((len(seen), BY_LENGTHS), np.nan)
    longest = np.percentile(seen[known], LONGEST_PERCENTILE, axis=0)
    _, a, b = longest
    cosine = (a**2 + b**2 - np.minimum(seen[:, 0], a + b) ** 2) / (2 * a * b)
    angle = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return np.column_stack([seen[:, 0], seen / longest, np.tile(longest, (len(seen), 1)), angle / 90.0])
