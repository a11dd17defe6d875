"""track -> signals: a small library of named quantities, each a registered function.

Angles are degrees; lengths are centimetres when the track has a scale, else fractions of trunk
length. In side views everything is taken from the side nearest the camera, and knee and elbow are
signed: past straight reads above 180.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from pydantic import BaseModel, ConfigDict

from shared.domain import Floats, Signal, Track, Unit
from shared.exercise import CameraView, Exercise
from shared.keypoints import Side
from vision.common.geometry import from_vertical, included_angle, signed_included_angle
from vision.measuring.camera_yaw import front_off_deg, in_space_off_deg
from vision.measuring.correction import correct
from vision.measuring.filters import known_percentile
from vision.measuring.uncertainty import clip_half_width, moment_half_width

#: An angle further than this off its view is not judged: projection alone costs too much.
MAX_OFF_VIEW_DEG = 30.0
#: Past straight no angle is told larger. What leaps by more than this from sample to sample is no limb's
#: motion (1,800 degrees a second at the track's 30 samples), nor is what lies so many samples beside it.
MOST_DEG, LEAP_DEG, LEAP_SAMPLES = 230.0, 60.0, 4
#: Both arms of a press lie this far apart in no more than 7 % of a set, of fifteen from the front; behind
#: somebody who stands before one arm it was a third.
APART_DEG, APART_SHARE, STEP_PERCENTILE = 45.0, 0.15, 97
#: The steadier arm moves, and is known, at least for this share of what the other does: a guess stands still.
AS_MUCH = 0.5


class Params(BaseModel):
    """Parameters of a signal; an unknown one is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class NoParams(Params):
    """A signal without parameters."""


class JointParams(Params):
    """joint: knee, elbow or hip."""

    joint: str


class ViaParams(Params):
    """via: the point that carries the arm, wrist or elbow (machines with arm pads)."""

    via: str = "wrist"


@dataclass(frozen=True)
class Raw:
    """What a signal function gives: values (T,), unit, the points to draw, and its own kind of error."""

    values: Floats
    unit: Unit
    points: tuple[str, ...]
    unjudgeable: str | None = None


SignalFn = Callable[[Track, Any], Raw]
JOINT_POINTS = {
    "knee": ("hip", "knee", "ankle"),
    "elbow": ("shoulder", "elbow", "wrist"),
    "hip": ("shoulder", "hip", "knee"),
}
SIGNALS: dict[str, tuple[SignalFn, type[Params]]] = {}


def signal(kind: str, params: type[Params] = NoParams) -> Callable[[SignalFn], SignalFn]:
    """Register a signal function under the name definitions use."""

    def register(function: SignalFn) -> SignalFn:
        SIGNALS[kind] = (function, params)
        return function

    return register


def compute_signals(
    track: Track, plan: Mapping[str, tuple[SignalFn, Any]], exercise: Exercise, keep_raw: bool = False
) -> dict[str, Signal]:
    """Every signal of the definition, with its uncertainty, by name.

    The drive is corrected where a correction was learnt, unless ``keep_raw``.
    """
    out = {}
    for name, (function, params) in plan.items():
        raw = function(track, params)
        kind = exercise.signals[name].kind
        values, learnt_deg = raw.values, None
        if name == exercise.drive.signal and raw.unjudgeable is None and not keep_raw:
            values, learnt_deg = correct(track, exercise, view_word(track), raw.values)
        out[name] = Signal(
            name=name,
            unit=raw.unit,
            time_s=track.time_s,
            values=values,
            moment_half=moment_half_width(track, raw.points, raw.unit),
            clip_half=clip_half_width(kind, params, exercise, track, raw.unit, learnt_deg),
            points=raw.points,
            raw=raw.values,
            unjudgeable=raw.unjudgeable,
        )
    return out


def view_word(track: Track) -> CameraView:
    """The nearest of side, front and rear."""
    if track.view.is_side:
        return "side"
    return "front" if abs(track.view.yaw_deg) < 90.0 else "rear"


def off_view(wanted_off: float, view: str) -> str | None:
    """Why an angle this many degrees off its view is not judged; None when it is."""
    if wanted_off > MAX_OFF_VIEW_DEG:
        return f"the phone stands {wanted_off:.0f} degrees off the {view} view; film straight from the {view}"
    return None


def facing(track: Track) -> int:
    """+1 facing the right edge of the picture, -1 the left; +1 where that is not known."""
    return track.facing or 1


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
