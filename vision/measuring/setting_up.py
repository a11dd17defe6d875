"""Whether somebody sets up a machine's seat instead of training on it."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Landmarks
from shared.keypoints import INDEX
from vision.common.geometry import from_vertical
from vision.measuring.sittings import BENT_DEG, find_bouts, find_sittings

_HIPS = [INDEX["left_hip"], INDEX["right_hip"]]
_SHOULDERS = [INDEX["left_shoulder"], INDEX["right_shoulder"]]


def only_sets_up(survey: Landmarks, poses_px: Floats) -> bool:
    """Whether who is seen in poses (M, 33, 2) px mostly bends over, and nobody there sits and trains."""
    hips, shoulders = (poses_px[:, ends].mean(axis=1) for ends in (_HIPS, _SHOULDERS))
    lean = np.nanmedian(np.abs(from_vertical(hips, shoulders, facing=1)))
    return bool(lean > BENT_DEG) and not find_bouts(survey, find_sittings(survey))
