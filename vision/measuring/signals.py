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
from shared.keypoints import INDEX, Side
from vision.common.geometry import distance, from_vertical, included_angle, signed_included_angle
from vision.measuring.correction import correct
from vision.measuring.ends import TRUNK_M
from vision.measuring.filters import known_percentile
from vision.measuring.fold import unfolded
from vision.measuring.turn import camera_turn_deg, front_off_deg, in_space_off_deg, is_side
from vision.measuring.uncertainty import bias_half_width, noise_half_width

#: An angle further than this off its view is not judged: projection alone costs too much.
MAX_OFF_VIEW_DEG = 30.0
#: Past straight no angle is told larger. What leaps by more than this from sample to sample is no limb's
#: motion (1,800 degrees a second at the track's 30 samples), nor is what lies so many samples beside it.
MOST_DEG, LEAP_DEG, LEAP_SAMPLES = 230.0, 60.0, 4


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


class ArmParams(ViaParams):
    """lifts_wide: whether the lift ends with the arms wide, and may go on past the body's plane."""

    lifts_wide: bool = False


@dataclass(frozen=True)
class Raw:
    """What a signal function gives: values (T,), unit, the points to draw, and its own kind of error."""

    values: Floats
    unit: Unit
    points: tuple[str, ...]
    unjudgeable: str | None = None


SignalFn = Callable[[Track, Any], Raw]
_JOINTS = {
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
            noise=noise_half_width(track, raw.points, raw.unit),
            bias=bias_half_width(kind, params, exercise, track, raw.unit, learnt_deg),
            points=raw.points,
            raw=raw.values,
            unjudgeable=raw.unjudgeable,
        )
    return out


def view_word(track: Track) -> CameraView:
    """The nearest of side, front and rear."""
    yaw = abs(track.view.yaw_deg)
    if yaw < 45.0:
        return "front"
    return "rear" if yaw > 135.0 else "side"


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
    """Included angle of a joint, 180 = straight; signed in side views, mean of both sides in others."""
    parts = _JOINTS[params.joint]
    if is_side(track):
        names = tuple(f"{track.near}_{p}" for p in parts)
        a, vertex, b = (track.xy(n) for n in names)
        bend = -facing(track) if params.joint == "elbow" else facing(track)
        if params.joint == "hip":
            return Raw(included_angle(a, vertex, b), "deg", names, off_view(in_space_off_deg(track), "side"))
        values = _without_leaps(signed_included_angle(a, vertex, b, bend))
        return Raw(values, "deg", names, off_view(in_space_off_deg(track), "side"))
    sides: tuple[Side, Side] = ("left", "right")
    both = [included_angle(*(track.xy(f"{s}_{p}") for p in parts)) for s in sides]
    names = tuple(f"{track.near}_{p}" for p in parts)
    return Raw((both[0] + both[1]) / 2.0, "deg", names, off_view(front_off_deg(track), "front"))


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
    ear, eye = track.xy(names[0]), track.xy(names[1])
    values = np.degrees(np.arctan2(eye[:, 1] - ear[:, 1], (eye[:, 0] - ear[:, 0]) * facing(track)))
    return Raw(values, "deg", names, off_view(in_space_off_deg(track), "side"))


@signal("upper_arm_elevation")
def upper_arm_elevation(track: Track, params: NoParams) -> Raw:
    """Angle of the upper arm from hanging straight down: 0 down, 90 level, 180 overhead."""
    if is_side(track):
        return _elevation(track, track.near)
    left, right = _elevation(track, "left"), _elevation(track, "right")
    return Raw((left.values + right.values) / 2.0, "deg", left.points)


def _elevation(track: Track, side: Side) -> Raw:
    names = (f"{side}_shoulder", f"{side}_elbow")
    shoulder, elbow = track.xy(names[0]), track.xy(names[1])
    down = np.stack([shoulder[:, 0], shoulder[:, 1] + 1.0], axis=-1)
    return Raw(included_angle(elbow, shoulder, down), "deg", names)


@signal("hand_gap", ViaParams)
def hand_gap(track: Track, params: ViaParams) -> Raw:
    """Distance between both hands (or elbows) over shoulder width (front and rear views)."""
    names = (f"left_{params.via}", f"right_{params.via}")
    gap = distance(track.xy(names[0]), track.xy(names[1]))
    return Raw(gap / _shoulder_px(track), "ratio", names, off_view(front_off_deg(track), "front"))


@signal("arm_horizontal", ArmParams)
def arm_horizontal(track: Track, params: ArmParams) -> Raw:
    """Horizontal angle of the arms: 0 straight ahead, 90 straight out.

    In front and rear views from the hand gap: each hand lies half a shoulder width plus the sine of the
    angle times the arm's reach from the middle; past the body's plane it goes on (``fold.py``). In side views
    its cosine is how far the near hand lies ahead of the shoulder over the farthest it reached in the set.
    """
    if is_side(track):
        return _arm_ahead(track, params)
    gap = hand_gap(track, params)
    beside = (gap.values - 1.0) / 2.0
    sine = np.clip(beside / _reach(track, beside, params), -1.0, 1.0)
    values = unfolded(np.degrees(np.arcsin(sine)), _arm_depth(track), params.lifts_wide)
    return Raw(values, "deg", gap.points, gap.unjudgeable)


def _reach(track: Track, beside: Floats, params: ArmParams) -> Floats:
    """How far the hands lie beside their shoulders with the arms straight out, in shoulder widths, (T,).

    Where the lift ends with the arms wide, by the widest that the set shows: a camera close by shows hands
    that are ahead of the body larger, so that arms half open seem to be straight out. Elsewhere by the
    segments' length (Drillis and Contini), less where the elbow is clearly bent.
    """
    usual = _REACH_OVER_SHOULDERS[params.via]
    if params.lifts_wide:
        widest = known_percentile(beside, WIDEST_PERCENTILE) / np.sin(np.radians(WIDE_DEG))
        return np.full(len(beside), max(widest, LEAST_REACH * usual))
    return usual * (_bent_share(track) if params.via == "wrist" else np.ones(len(beside)))


def _arm_depth(track: Track) -> Floats:
    """How far elbows, wrists and index fingers lie behind their shoulders, (T, 6) in trunk lengths."""
    depth = track.world_m[:, :, 2] / TRUNK_M
    parts = [
        (f"{s}_{part}", f"{s}_shoulder") for s in ("left", "right") for part in ("elbow", "wrist", "index")
    ]
    return np.column_stack([depth[:, INDEX[part]] - depth[:, INDEX[shoulder]] for part, shoulder in parts])


def _bent_share(track: Track) -> Floats:
    """How far an arm reaches over one that is hardly bent, (T,), mean of both; unknown counts as straight.

    The elbow is that of the landmarks in space, which show one of 160 degrees as 145 from behind: only
    what is clearly bent counts.
    """
    elbows = [
        included_angle(*(track.world_m[:, INDEX[f"{side}_{part}"]] for part in _JOINTS["elbow"]))
        for side in ("left", "right")
    ]
    half_bend = np.radians(180.0 - np.nan_to_num(np.mean(elbows, axis=0), nan=180.0)) / 2.0
    return np.asarray(np.minimum(1.0, np.cos(half_bend) / np.cos(np.radians(HARDLY_BENT_DEG / 2.0))))


def _arm_ahead(track: Track, params: ViaParams) -> Raw:
    names = (f"{track.near}_shoulder", f"{track.near}_{params.via}")
    ahead = ahead_of_shoulder_px(track, params.via)
    reach = FARTHEST_OVER_SEEN * known_percentile(ahead, 99)
    cosine = np.clip(ahead / reach, -1.0, 1.0) if reach > 0.0 else np.full(len(ahead), np.nan)
    return Raw(np.degrees(np.arccos(cosine)), "deg", names, off_view(in_space_off_deg(track), "side"))


def ahead_of_shoulder_px(track: Track, via: str) -> Floats:
    """How far the near hand (or elbow) lies ahead of its shoulder (T,), as from a pure side view.

    An arm held out to the side points at the camera: seen at a slant it seems to lie behind or ahead by as
    much as it reaches out. How far that is, its length tells: the longest seen in the set.
    """
    px = track.xy(f"{track.near}_{via}") - track.xy(f"{track.near}_shoulder")
    seen = np.linalg.norm(px, axis=1)
    arm = known_percentile(seen, 98)
    out = np.sqrt(np.maximum(0.0, arm**2 - seen**2))
    turn = np.radians(camera_turn_deg(track))
    return np.asarray((px[:, 0] * facing(track) + out * np.sin(turn)) / np.cos(turn))


#: Lifts that end with the arms wide come to about this; what looks narrower than that share of the usual
#: reach does not end wide.
WIDE_DEG, WIDEST_PERCENTILE, LEAST_REACH = 80.0, 98, 0.6
#: Elbows that the landmarks in space show bent by up to this much are those flies are made with.
HARDLY_BENT_DEG = 40.0
#: An arm is this much longer than it reaches ahead with the hands together: they are off it by ten degrees.
FARTHEST_OVER_SEEN = 1.0 / float(np.cos(np.radians(10.0)))
#: Drillis and Contini in Winter 2009: upper arm .186, forearm .146, shoulder width .259 of stature;
#: landmark shoulders are joint centres, about 0.8 of that width apart (measured on rendered people).
_REACH_OVER_SHOULDERS = {"wrist": (0.186 + 0.146) / (0.8 * 0.259), "elbow": 0.186 / (0.8 * 0.259)}


def _shoulder_px(track: Track) -> float:
    width = distance(track.xy("left_shoulder"), track.xy("right_shoulder"))
    return known_percentile(width, 50)
