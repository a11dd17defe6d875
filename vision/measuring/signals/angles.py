"""Signals of angles: of joints, trunk, head and upper arm."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Track
from shared.keypoints import Side
from vision.common.geometry import from_vertical, included_angle, signed_included_angle
from vision.measuring.signals.signal import NoParams, Params, Raw, facing, off_view, signal
from vision.measuring.track.camera_yaw import front_off_deg, in_space_off_deg
from vision.measuring.track.filters import known_percentile

#: Past straight no angle is told larger. What leaps by more than this from sample to sample is no limb's
#: motion (1,800 degrees a second at the track's 30 samples), nor is what lies so many samples beside it.
MOST_DEG, LEAP_DEG, LEAP_SAMPLES = 230.0, 60.0, 4
#: Both arms of a press lie this far apart in no more than 7 % of a set, of fifteen from the front; behind
#: somebody who stands before one arm it was a third.
APART_DEG, APART_SHARE, STEP_PERCENTILE = 45.0, 0.15, 97
#: The steadier arm moves, and is known, at least for this share of what the other does: a guess stands still.
AS_MUCH = 0.5
JOINT_POINTS = {
    "knee": ("hip", "knee", "ankle"),
    "elbow": ("shoulder", "elbow", "wrist"),
    "hip": ("shoulder", "hip", "knee"),
}


class JointParams(Params):
    """joint: knee, elbow or hip."""

    joint: str


@signal("joint_angle", JointParams)
def joint_angle(track: Track, params: JointParams) -> Raw:
    """Included angle of a joint, 180 = straight; signed in side views, of both sides in others."""
    parts = JOINT_POINTS[params.joint]
    if track.view.is_side:
        names = tuple(f"{track.near}_{p}" for p in parts)
        a, vertex, b = (track.xy(n) for n in names)
        bend = -facing(track) if params.joint == "elbow" else facing(track)
        if params.joint == "hip":
            return Raw(included_angle(a, vertex, b), "deg", names, off_view(in_space_off_deg(track), "side"))
        values = _without_leaps(signed_included_angle(a, vertex, b, bend))
        return Raw(values, "deg", names, off_view(in_space_off_deg(track), "side"))
    values, shown = _of_both(track, parts)
    names = tuple(f"{shown}_{p}" for p in parts)
    return Raw(values, "deg", names, off_view(front_off_deg(track), "front"))


def _of_both(track: Track, parts: tuple[str, str, str]) -> tuple[Floats, Side]:
    """The mean of both sides' angle (T,) and the near side; where they are often far apart, one is misread:
    the steadier side and its angle, if it moves and is known about as much as the other.
    """
    found: dict[Side, Floats] = {
        side: included_angle(*(track.xy(f"{side}_{part}") for part in parts)) for side in ("left", "right")
    }
    both = np.stack(list(found.values()))
    known = ~np.isnan(both).any(axis=0)
    mean = np.asarray(both.mean(axis=0)), track.near
    if not known.any() or np.mean(np.abs(both[0] - both[1])[known] > APART_DEG) <= APART_SHARE:
        return mean
    steps = np.nan_to_num(
        [known_percentile(np.abs(np.diff(one)), STEP_PERCENTILE) for one in both], nan=np.inf
    )
    steady, other = np.argsort(steps, kind="stable")
    moves = np.ptp(np.percentile(both[:, known], [10, 90], axis=1), axis=0)
    seen = (~np.isnan(both)).sum(axis=1)
    if moves[steady] < AS_MUCH * moves[other] or seen[steady] < AS_MUCH * seen[other]:
        return mean
    side: Side = "right" if steady else "left"
    return found[side], side


def _without_leaps(values: Floats) -> Floats:
    """A signed angle (T,) that is not known about a leap, where a limb folds past the line of sight."""
    out = np.minimum(values, MOST_DEG)
    for i in np.flatnonzero(np.abs(np.diff(values)) > LEAP_DEG):
        out[max(i - LEAP_SAMPLES + 1, 0) : i + LEAP_SAMPLES + 1] = np.nan
    return out


@signal("trunk_pitch")
def trunk_pitch(track: Track, params: NoParams) -> Raw:
    """Pitch of the hip-to-shoulder line from vertical, positive forward (side views)."""
    names = (f"{track.near}_hip", f"{track.near}_shoulder")
    values = from_vertical(track.still_xy(names[0]), track.still_xy(names[1]), facing(track))
    return Raw(values, "deg", names, off_view(in_space_off_deg(track), "side"))


@signal("head_pitch")
def head_pitch(track: Track, params: NoParams) -> Raw:
    """Pitch of the ear-to-eye line below the horizontal, positive face down (side views)."""
    names = (f"{track.near}_ear", f"{track.near}_eye")
    ear, eye = track.still_xy(names[0]), track.still_xy(names[1])
    values = np.degrees(np.arctan2(eye[:, 1] - ear[:, 1], (eye[:, 0] - ear[:, 0]) * facing(track)))
    return Raw(values, "deg", names, off_view(in_space_off_deg(track), "side"))


@signal("upper_arm_elevation")
def upper_arm_elevation(track: Track, params: NoParams) -> Raw:
    """Angle of the upper arm from hanging straight down: 0 down, 90 level, 180 overhead."""
    if track.view.is_side:
        return _elevation(track, track.near)
    left, right = _elevation(track, "left"), _elevation(track, "right")
    return Raw((left.values + right.values) / 2.0, "deg", left.points)


def _elevation(track: Track, side: Side) -> Raw:
    names = (f"{side}_shoulder", f"{side}_elbow")
    shoulder, elbow = track.still_xy(names[0]), track.still_xy(names[1])
    down = np.stack([shoulder[:, 0], shoulder[:, 1] + 1.0], axis=-1)
    return Raw(included_angle(elbow, shoulder, down), "deg", names)
