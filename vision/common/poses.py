"""Where a body is in the picture, how large, how far two poses lie apart, and poses one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from shared.domain import Floats, Landmarks
from shared.keypoints import BONES, INDEX, MIRRORED
from vision.common.geometry import distance

#: Knees of a seated person lie less than this many trunk lengths under the hips.
SEATED_DROP = 0.6
_KNEES, _HIPS = ([INDEX[f"{side}_{part}"] for side in ("left", "right")] for part in ("knee", "hip"))
_TORSO = [INDEX[n] for n in ("left_shoulder", "right_shoulder", "left_hip", "right_hip")]
_BONE_ENDS = [[INDEX[bone[end]] for bone in BONES] for end in (0, 1)]


def torso(image_px: Floats) -> tuple[Floats, Floats]:
    """Torso centre (..., 2) and trunk length (...) in px of poses (..., 33, 3)."""
    points = image_px[..., _TORSO, :2]
    shoulders, hips = points[..., :2, :].mean(axis=-2), points[..., 2:, :].mean(axis=-2)
    return (shoulders + hips) / 2.0, np.maximum(distance(shoulders, hips), 1.0)


def knee_drop(image_px: Floats) -> Floats:
    """How far the knees lie under the hips, (...) px, of poses (..., 33, 2 or more)."""
    return np.asarray(image_px[..., _KNEES, 1].mean(axis=-1) - image_px[..., _HIPS, 1].mean(axis=-1))


def sits(image_px: Floats) -> NDArray[np.bool_]:
    """Whether each of the poses (..., 33, 2 or more) px is a seated one, (...); not where it is unknown."""
    with np.errstate(invalid="ignore"):
        return np.asarray(knee_drop(image_px) < SEATED_DROP * torso(image_px)[1])


def one_after_the_other(parts: Sequence[Landmarks]) -> Landmarks:
    """The rows of all parts, in their order; the model is the first one's."""
    names = [f.name for f in fields(Landmarks) if f.name != "model"]
    arrays = {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
    return Landmarks(model=parts[0].model, **arrays)


def pose_distance(a: Floats, b: Floats) -> Floats:
    """Median distance (...) between the points of two poses (..., 33, 2), px.

    The model sometimes takes a back for a front, which exchanges left and right: the nearer reading counts.
    """
    both = np.sort([distance(a, b), distance(a[..., MIRRORED, :], b)], axis=-1)
    return np.asarray(both[..., both.shape[-1] // 2].min(axis=0))


def off_bones(points: Floats, pose: Floats) -> Floats:
    """Trunk lengths from each of the points (K, 2) to the nearest bone of a pose (33, 2)."""
    apart = _to_segment(points[:, None], pose[_BONE_ENDS[0]], pose[_BONE_ENDS[1]])
    return np.asarray(apart.min(axis=1) / torso(pose)[1])


def _to_segment(points: Floats, a: Floats, b: Floats) -> Floats:
    """Distance of points (..., 2) to the nearest point of the segments a to b, broadcast against them."""
    along = b - a
    length2 = np.maximum(np.sum(along * along, axis=-1), 1e-12)
    share = np.clip(np.sum((points - a) * along, axis=-1) / length2, 0.0, 1.0)
    return distance(points, a + share[..., None] * along)
