"""Where the subject is in every frame: the one pose of each that goes on from the surveyed ones."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Landmarks
from vision.subject import Subject, pose_distance

#: A dense pose belongs to the subject within this many trunk lengths of a surveyed pose (median over
#: the points) no further away in time than this.
ACCEPT_STEP = 0.5
ACCEPT_GAP_S = 0.5
#: Or when it goes on from the last accepted pose, this near and this soon.
CONTINUE_STEP = 0.25
CONTINUE_GAP_S = 0.15


def pick(dense: Landmarks, subject: Subject) -> Landmarks:
    """The subject's pose in each dense row, one slot; NaN where none can be told to be the subject's.

    A pose is the subject's when it is like a surveyed one near by in time, or goes on from the last
    accepted one; of several the one that goes on best is taken.
    """
    after = np.clip(np.searchsorted(subject.time_s, dense.time_s), 0, len(subject.time_s) - 1)
    off = np.fmin(_off(dense, subject, np.maximum(after - 1, 0)), _off(dense, subject, after))
    chosen = np.full(len(dense.frame), -1)
    last: int | None = None
    for row in range(len(dense.frame)):
        step = _steps(dense, row, last, chosen, float(subject.trunk_px[after[row]]))
        goes_on = (step < CONTINUE_STEP) & (off[row] < 2 * ACCEPT_STEP)
        slots = np.flatnonzero((off[row] < ACCEPT_STEP) | goes_on)
        if len(slots):
            total = np.where(np.isnan(step), 0.0, step) + off[row]
            chosen[row] = int(slots[int(np.argmin(total[slots]))])
            last = row
    return _one_slot(dense, chosen)


def _off(dense: Landmarks, subject: Subject, which: np.ndarray) -> Floats:
    """Trunk lengths between each dense pose and one surveyed pose a row, (N, P).

    NaN when that was too long ago, unless nobody else was seen in the whole clip.
    """
    poses = subject.poses_px[which][:, None]
    off = pose_distance(dense.image_px[..., :2], poses) / subject.trunk_px[which][:, None]
    if subject.others:
        off[np.abs(subject.time_s[which] - dense.time_s) > ACCEPT_GAP_S] = np.nan
    return np.asarray(off)


def _steps(dense: Landmarks, row: int, last: int | None, chosen: np.ndarray, trunk: float) -> Floats:
    """Trunk lengths from the last accepted pose to each pose of a row, (P,); NaN when too long ago."""
    if last is None or dense.time_s[row] - dense.time_s[last] > CONTINUE_GAP_S:
        return np.full(dense.people, np.nan)
    before = dense.image_px[last, chosen[last], :, :2]
    return pose_distance(dense.image_px[row, ..., :2], before) / trunk


def _one_slot(dense: Landmarks, chosen: np.ndarray) -> Landmarks:
    rows = np.arange(len(chosen))

    def one(values: Floats) -> Floats:
        out: Floats = values[rows, np.maximum(chosen, 0)][:, None].copy()
        out[chosen < 0] = np.nan
        return out

    return Landmarks(
        dense.frame, dense.time_s, one(dense.image_px), one(dense.world_m),
        one(dense.visibility), one(dense.presence), dense.model,
    )  # fmt: skip
