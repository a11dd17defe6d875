"""How far a measured value may be off: the half-width of its 90 % interval, in two parts.

The clip's: shared by the whole of it, from what the landmark model showed per joint on rendered people
with exact truth; it cancels in a change. The moment's: changes from one to the next, from the track's own
jitter. Both are in the signal's unit.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
from pydantic import BaseModel

from shared.domain import Floats, Track, Unit
from shared.exercise import Exercise
from shared.keypoints import INDEX
from vision.measuring.learnt.data import UNLEARNT_JOINT_DEG, load_learnt
from vision.measuring.track.camera_yaw import off_deg

#: Half-width of a 90 % interval over the standard deviation of a normal error.
Z90 = 1.645
#: Half-widths in degrees by kind of signal: the flies' arm angle from the hand gap, on tuning clips, and the
#: elbow from the model's own depth, which is off by this much with the arms ahead, on six of them.
KIND_HALF_DEG = {"arm_horizontal": 19.0, "elbow_by_lengths": 25.0}
#: Absolute trunk and head pitch were not measured, a wide guess; checks use the change only.
PITCH_HALF_DEG = 8.0
#: What is left of the clip's part in a change within one set: half-width of trunk pitch changes on tuning
#: clips, about 2 on the arm machines and 4.5 on the leg machines.
CHANGE_DEG = 4.0
#: Half-widths of a length's change between moments of one set and of its place, in trunk lengths.
CHANGE_TRUNK = 0.03
LENGTH_HALF_TRUNK = 0.08
#: Beyond this an angle is less sure by so much for each degree: knees were 5.4 degrees off at 30, 2.2 nearer.
NEAR_VIEW_DEG, PER_DEGREE_OFF = 20.0, 1.0
#: And a phase's duration by so many seconds: on eight sets filmed from 30 degrees off nine in ten lay within
#: 0.1 to 0.3 s, machine by machine.
SECONDS_PER_DEGREE = 0.02
#: A phase shorter than this is told surer, in proportion and down to a share: its ends are sharp. On 226
#: rendered sets nine in ten that took under 0.9 s lay within 0.6 of the half-width.
SHORT_S, SHORTEST_SHARE = 1.5, 0.6
#: Of somebody whose trunk is smaller than this times and ranges are less sure, in proportion.
SURE_TRUNK_PX = 110.0


def clip_half_width(
    kind: str, params: BaseModel, exercise: Exercise, track: Track, unit: Unit, learnt_deg: float | None
) -> float:
    """The clip's part for one signal, in its unit; learnt_deg: that of a learnt correction."""
    learnt = load_learnt(exercise.name)
    if unit == "deg":
        joint = getattr(params, "joint", None)
        own = learnt.joint_deg.get(joint, UNLEARNT_JOINT_DEG) if joint else KIND_HALF_DEG.get(kind)
        raw = PITCH_HALF_DEG if own is None else own
        if joint is not None and joint == exercise.drive_joint:
            raw = max(raw, learnt.raw_deg(joint))
        half = raw if learnt_deg is None else learnt_deg
        return float(np.hypot(half, PER_DEGREE_OFF * max(0.0, off_deg(track) - NEAR_VIEW_DEG)))
    place = learnt.place(kind, str(getattr(params, "point", "hand")))
    return in_unit(LENGTH_HALF_TRUNK if place is None else place, track, unit)


def change_half_width(unit: Unit, track: Track) -> float:
    """What remains of the clip's part in a difference between two moments of one set."""
    return CHANGE_DEG if unit == "deg" else in_unit(CHANGE_TRUNK, track, unit)


def phase_half(track: Track, unsteady: float = 1.0) -> Callable[[float], float]:
    """What becomes of the half-width of a lift's or lower's duration, s, by where the camera stands.

    unsteady: by how much it is less sure because the picture trembles.
    """
    less, far = unsteady * smallness(track), SECONDS_PER_DEGREE * max(0.0, off_deg(track) - NEAR_VIEW_DEG)
    return lambda half_s: float(np.hypot(half_s * less, far))


def short_phase_share(seconds: float) -> float:
    """By which share of a phase's half-width one that took so long is told."""
    return min(1.0, max(SHORTEST_SHARE, seconds / SHORT_S))


def smallness(track: Track) -> float:
    """By how much times and ranges are less sure of somebody who is small in the picture, 1 or more."""
    return max(1.0, SURE_TRUNK_PX / track.trunk_px)


def in_unit(trunk_fraction: float, track: Track, unit: Unit) -> float:
    """A length in trunk lengths, in centimetres when that is the unit."""
    if unit == "cm" and track.cm_per_px is not None:
        return trunk_fraction * track.trunk_px * track.cm_per_px
    return trunk_fraction


def moment_half_width(track: Track, points: tuple[str, ...], unit: Unit) -> Floats:
    """The moment's part (T,): landmark jitter over the shortest segment, in the signal's unit."""
    both = [p.replace("mid_", side) for p in points for side in ("left_", "right_")]
    jitter = np.array([track.jitter_px[INDEX[p]] for p in dict.fromkeys(both)])
    worst = float(np.nanmax(jitter)) if len(jitter) and not np.isnan(jitter).all() else float("nan")
    if unit == "deg":
        scale = np.degrees(1.0 / _shortest_px(track, points)) * 2.0**0.5
    elif unit == "cm":
        scale = track.cm_per_px or float("nan")
    else:
        scale = 1.0 / track.trunk_px
    return np.full(len(track.time_s), Z90 * worst * scale)


def _shortest_px(track: Track, points: tuple[str, ...]) -> float:
    lengths = [0.25 * track.trunk_px]
    for a, b in pairwise(points):
        size = np.linalg.norm(track.xy(a) - track.xy(b), axis=-1)
        known = size[~np.isnan(size)]
        if len(known):
            lengths.append(float(np.median(known)))
    return max(min(lengths[1:], default=lengths[0]), lengths[0])
