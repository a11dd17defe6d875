"""Where the subject is in every frame: the one pose of each that goes on from the surveyed ones."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from shared.domain import Floats, Frame, Landmarks
from vision.common.poses import pose_distance, torso
from vision.seeing.paint import painted_out
from vision.seeing.subject import Subject

#: A dense pose belongs to the subject within this many trunk lengths of a surveyed pose (median over
#: the points) no further away in time than this.
ACCEPT_STEP = 0.5
ACCEPT_GAP_S = 0.5
#: Or when it goes on from the last accepted pose, this near and this soon.
CONTINUE_STEP = 0.25
CONTINUE_GAP_S = 0.25
#: A pose this near to somebody else's, in trunk lengths, may be theirs where the subject was not seen.
MIXED_STEP = 1.0
#: Others are painted over this long in s before and after they were seen.
PAINT_GAP_S = 3.0


def without_others(frames: Iterable[Frame], subject: Subject) -> Iterator[Frame]:
    """The frames with head and trunk of those who come near painted over, so that nobody else is looked at.

    The model finds people by head and trunk; a trainer beside the machine would draw it away from the
    lifter. What lies about the subject's own body stays.
    """
    for frame in frames:
        found = (_body_at(time_s, poses, frame.time_s) for time_s, poses in subject.near)
        bodies = [body for body in found if body is not None]
        own = subject.poses_px[np.argsort(np.abs(subject.time_s - frame.time_s))[:2]]
        yield replace(frame, image=painted_out(frame.image, bodies, own)) if bodies else frame


def _body_at(time_s: Floats, poses: Floats, now: float) -> Floats | None:
    """Pose (33, 2) px between two sightings of somebody; None when they may be gone.

    Someone seen at one place before and after was there in between, however long that took.
    """
    after = int(np.searchsorted(time_s, now))
    sides = [i for i in (after - 1, after) if 0 <= i < len(time_s)]
    away, both = np.abs(time_s[sides] - now), poses[sides]
    still = len(sides) == 2 and pose_distance(both[0], both[1]) < 0.3 * torso(both)[1][0]
    if not still and away.min() > PAINT_GAP_S:
        return None
    weight = away[::-1] if len(sides) == 2 and away.sum() > 0 else np.ones(len(sides))
    return np.asarray(np.average(both, axis=0, weights=weight))


def pick(dense: Landmarks, subject: Subject) -> Landmarks:
    """The subject's pose in each dense row, one slot; NaN where none can be told to be the subject's.

    A pose is the subject's when it is like a surveyed one near by in time, or goes on from the last
    accepted one; of several the one that goes on best is taken.
    """
    after = np.clip(np.searchsorted(subject.time_s, dense.time_s), 0, len(subject.time_s) - 1)
    off = np.fmin(_off(dense, subject, np.maximum(after - 1, 0)), _off(dense, subject, after))
    near, away = off < ACCEPT_STEP, off >= 2 * ACCEPT_STEP
    beyond_doubt = (near.sum(axis=1) == 1) & (near | away).all(axis=1)
    chosen = np.where(beyond_doubt, near.argmax(axis=1), -1)
    for row in np.flatnonzero(~beyond_doubt):
        step = _steps(dense, int(row), chosen, float(subject.trunk_px[after[row]]))
        slots = np.flatnonzero(near[row] | ((step < CONTINUE_STEP) & ~away[row]))
        if len(slots):
            total = np.nan_to_num(step) + np.nan_to_num(off[row])
            chosen[row] = int(slots[int(np.argmin(total[slots]))])
    return _one_slot(dense, chosen)


def lost_share(dense: Landmarks, subject: Subject) -> float:
    """Share of the looks, where the subject was surveyed about then, that show somebody or something else."""
    nearest_s = np.abs(subject.time_s[:, None] - dense.time_s).min(axis=0)
    lost = np.isnan(pick(dense, subject).image_px[:, 0, 0, 0])[nearest_s <= ACCEPT_GAP_S]
    return float(lost.mean()) if len(lost) else 0.0


def _off(dense: Landmarks, subject: Subject, which: np.ndarray) -> Floats:
    """Trunk lengths between each dense pose and one surveyed pose a row, (N, P).

    NaN where that was too long ago and somebody else who came near may be the one.
    """
    poses = subject.poses_px[which][:, None]
    off = pose_distance(dense.image_px[..., :2], poses) / subject.trunk_px[which][:, None]
    long_ago = np.abs(subject.time_s[which] - dense.time_s) > ACCEPT_GAP_S
    for time_s, others in subject.near:
        nearest = np.abs(time_s[:, None] - dense.time_s).argmin(axis=0)
        seen = np.abs(time_s[nearest] - dense.time_s) <= PAINT_GAP_S
        apart = pose_distance(dense.image_px[..., :2], others[nearest][:, None])
        mixed = (long_ago & seen)[:, None] & (apart < MIXED_STEP * subject.trunk_px[which][:, None])
        off[mixed] = np.nan
    return np.asarray(off)


def _steps(dense: Landmarks, row: int, chosen: np.ndarray, trunk: float) -> Floats:
    """Trunk lengths from the last accepted pose to each pose of a row, (P,); NaN when too long ago."""
    first = int(np.searchsorted(dense.time_s, dense.time_s[row] - CONTINUE_GAP_S))
    accepted = first + np.flatnonzero(chosen[first:row] >= 0)
    if not len(accepted):
        return np.full(dense.people, np.nan)
    before = dense.image_px[accepted[-1], chosen[accepted[-1]], :, :2]
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
