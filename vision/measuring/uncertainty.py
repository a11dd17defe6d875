"""How far a measured value may be off: the half-width of its 90 % interval, in two parts.

bias: shared by the whole clip, from what the landmark model showed per joint on rendered people
with exact truth; it cancels in a change. noise: moves from moment to moment, from the track's own
jitter. Both are in the signal's unit.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from pydantic import BaseModel

from shared.domain import Floats, Track, Unit
from shared.exercise import Exercise
from shared.keypoints import INDEX

#: Half-width of a 90 % interval over the standard deviation of a normal error.
Z90 = 1.645
#: One-sided 80 % bound over the half-width of the two-sided 90 % interval. At 80 % 405 of 412 flags on 134
#: tuning clips were right and 296 of 311 clear faults found; at 90 %, 389 of 394 and 288.
ONE_SIDED = 0.8416 / Z90
#: Half-width in degrees of a raw drive angle at both ends, by (exercise, joint): what nine in ten ends of
#: rendered tuning clips kept within (``python -m sample_clips.learning.drive`` prints them).
JOINT_BIAS_DEG = {
    ("leg-extension", "knee"): 8.7,
    ("leg-curl", "knee"): 10.3,
    ("chest-press", "elbow"): 11.9,
    ("lat-pulldown", "elbow"): 17.1,
    ("shoulder-press", "elbow"): 16.7,
}
#: The flies' horizontal arm angle from the hand gap, likewise.
ARM_HORIZONTAL_BIAS_DEG = 19.0
#: The elbow from the model's own depth: off by this much with the arms ahead, on six tuning clips.
ELBOW_BY_LENGTHS_DEG = 25.0
#: Other exercises: the means of the table above; the hip was not measured, a wide guess.
DEFAULT_BIAS_DEG = {"knee": 9.5, "elbow": 18.0, "hip": 20.0}
#: Absolute trunk and head pitch were not measured, a wide guess; checks use the change only.
PITCH_BIAS_DEG = 8.0
#: What is left of the bias in a change within one set: half-width of trunk pitch changes on tuning clips,
#: about 2 on the arm machines and 4.5 on the leg machines.
CHANGE_DEG = 4.0
#: Half-width in seconds of a phase duration, on tuning clips; other exercises: all of them together.
DURATION_S = {
    "chest-fly": 0.17,
    "chest-press": 0.15,
    "lat-pulldown": 0.20,
    "leg-curl": 0.17,
    "leg-extension": 0.14,
    "reverse-fly": 0.20,
    "shoulder-press": 0.22,
}
DEFAULT_DURATION_S = 0.30
#: Half-widths of a length's change between moments of one set and of its place, in trunk lengths.
CHANGE_TRUNK = 0.03
LENGTH_BIAS_TRUNK = 0.08
#: The same for a place, by kind of signal, exercise and point.
PLACE_TRUNK = {
    ("height_over", "lat-pulldown", "elbow"): 0.07,
    ("height_over", "lat-pulldown", "wrist"): 0.16,
    ("height_over", "chest-press", "wrist"): 0.13,
    ("ahead_of", "chest-press", "wrist"): 0.15,
    ("hand_ahead", "chest-fly", ""): 0.2,
    ("hand_ahead", "reverse-fly", ""): 0.2,
}


def bias_half_width(
    kind: str, params: BaseModel, exercise: Exercise, track: Track, unit: Unit, learnt_deg: float | None
) -> float:
    """The clip-wide part for one signal, in its unit; learnt_deg: that of a learnt correction."""
    if learnt_deg is not None:
        return learnt_deg
    if unit == "deg":
        joint = getattr(params, "joint", None)
        if joint is None:
            return {"arm_horizontal": ARM_HORIZONTAL_BIAS_DEG, "elbow_by_lengths": ELBOW_BY_LENGTHS_DEG}.get(
                kind, PITCH_BIAS_DEG
            )
        return JOINT_BIAS_DEG.get((exercise.name, joint), DEFAULT_BIAS_DEG[joint])
    place = (kind, exercise.name, str(getattr(params, "point", "")))
    return in_unit(PLACE_TRUNK.get(place, LENGTH_BIAS_TRUNK), track, unit)


def duration_half_width(exercise: str) -> float:
    """Of the duration of one lift or lower, s."""
    return DURATION_S.get(exercise, DEFAULT_DURATION_S)


def change_half_width(unit: Unit, track: Track) -> float:
    """What remains of the clip-wide part in a difference between two moments of one set."""
    return CHANGE_DEG if unit == "deg" else in_unit(CHANGE_TRUNK, track, unit)


def in_unit(trunk_fraction: float, track: Track, unit: Unit) -> float:
    """A length in trunk lengths, in centimetres when that is the unit."""
    if unit == "cm" and track.cm_per_px is not None:
        return trunk_fraction * track.trunk_px * track.cm_per_px
    return trunk_fraction


def noise_half_width(track: Track, points: tuple[str, ...], unit: Unit) -> Floats:
    """The moving part (T,): landmark jitter over the shortest segment, in the signal's unit."""
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
