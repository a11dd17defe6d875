"""Signals of places: how high, how far ahead or how far along something lies.

Lengths are centimetres when the track has a scale, else fractions of trunk length.
"""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Track, Unit
from vision.common.geometry import distance
from vision.measuring.signals.arms import ahead_of_shoulder_px
from vision.measuring.signals.signal import NoParams, Params, Raw, ViaParams, facing, off_view, signal
from vision.measuring.track.camera_yaw import front_off_deg, in_space_off_deg
from vision.measuring.track.filters import known_percentile

#: A segment's own length is the longest seen of it in the set, but for a few moments that may be wrong.
LONGEST_PERCENTILE = 95
#: The far one of two parts must be seen for this share of the clip.
SEEN_SHARE = 0.3
#: Hands on two handles lie about so far apart, in trunk lengths: shoulders and a hand beside each.
HANDS_APART = 1.2
#: A camera hardly looks down more steeply than this tangent (20 degrees), and a hand that holds the same load
#: goes this share of the other's way.
STEEPEST, ALONG_SHARE = 0.36, 0.5


class OverParams(Params):
    """Height of one part over another; below_trunk: over a place that many trunk lengths below it."""

    point: str
    over: str
    below_trunk: float = 0.0


class AheadParams(Params):
    """How far one part lies ahead of another."""

    point: str
    of: str


class ShiftParams(Params):
    """parts: whose mean place is followed along the seat."""

    parts: tuple[str, ...]


def length(track: Track, px: Floats) -> tuple[Floats, Unit]:
    """Pixels as centimetres or trunk lengths, and which of the two."""
    if track.cm_per_px is not None:
        return px * track.cm_per_px, "cm"
    return px / track.trunk_px, "trunk_fraction"


def _nearer_lower_px(track: Track, part: str) -> float:
    """How much lower the near one of two parts lies than the middle of both, px; 0 where that is not seen."""
    far = "left" if track.near == "right" else "right"
    apart = track.xy(f"{track.near}_{part}")[:, 1] - track.xy(f"{far}_{part}")[:, 1]
    known = apart[~np.isnan(apart)]
    return float(np.median(known)) / 2.0 if len(known) > SEEN_SHARE * len(apart) else 0.0


def _looks_down(track: Track) -> float:
    """How steeply the camera looks down, as a tangent, by how much lower the near hand lies than the far one.

    0 where that is not seen, where the far hand does not go along, or where no camera stands so steeply.
    """
    tilt = 2.0 * _nearer_lower_px(track, "wrist") / (HANDS_APART * track.trunk_px)
    near, far = (_sweep_px(track.xy(f"{side}_wrist")) for side in ("left", "right"))
    along = min(near, far) >= ALONG_SHARE * max(near, far)
    return tilt if along and abs(tilt) <= STEEPEST else 0.0


def _sweep_px(place: Floats) -> float:
    """How far a place (T, 2) mostly goes to and fro, px."""
    known = place[~np.isnan(place).any(axis=1)]
    return float(np.linalg.norm(np.subtract(*np.percentile(known, [90, 10], axis=0)))) if len(known) else 0.0


@signal("height_over", OverParams)
def height_over(track: Track, params: OverParams) -> Raw:
    """Height of one part over another, positive above (side views).

    On the near side; where the far one is seen as well, between the two. A camera that looks down on somebody
    shows what is nearer lower: near hands than far ones, and, from before or behind, hands than shoulders.
    """
    names = (f"{track.near}_{params.point}", f"{track.near}_{params.over}")
    apart = track.xy(names[1]) - track.xy(names[0])
    px = apart[:, 1] + params.below_trunk * track.trunk_px
    if track.view.is_side and (tilt := _looks_down(track)):
        px += _nearer_lower_px(track, params.point) - _nearer_lower_px(track, params.over)
        px -= apart[:, 0] * facing(track) * np.tan(np.radians(90.0 - abs(track.view.yaw_deg))) * tilt
    values, unit = length(track, px)
    return Raw(values, unit, points=names, unjudgeable=off_view(in_space_off_deg(track), "side"))


@signal("ahead_of", AheadParams)
def ahead_of(track: Track, params: AheadParams) -> Raw:
    """How far one part lies ahead of another on the near side, negative behind it (side views)."""
    names = (f"{track.near}_{params.point}", f"{track.near}_{params.of}")
    values, unit = length(track, (track.xy(names[0]) - track.xy(names[1]))[:, 0] * facing(track))
    return Raw(values, unit, points=names, unjudgeable=off_view(in_space_off_deg(track), "side"))


@signal("hand_ahead", ViaParams)
def hand_ahead(track: Track, params: ViaParams) -> Raw:
    """How far the near hand (or elbow) lies ahead of its shoulder, negative behind it (side views)."""
    names = (f"{track.near}_{params.via}", f"{track.near}_shoulder")
    values, unit = length(track, ahead_of_shoulder_px(track, params.via))
    return Raw(values, unit, points=names, unjudgeable=off_view(in_space_off_deg(track), "side"))


@signal("forward_shift", ShiftParams)
def forward_shift(track: Track, params: ShiftParams) -> Raw:
    """How far the named parts of the near side lie forward of their median place (side views)."""
    names = tuple(f"{track.near}_{part}" for part in params.parts)
    x = np.mean([track.still_xy(name)[:, 0] for name in names], axis=0) * facing(track)
    known = x[~np.isnan(x)]
    values, unit = length(track, x - (np.median(known) if len(known) else 0.0))
    return Raw(values, unit, points=names[:1], unjudgeable=off_view(in_space_off_deg(track), "side"))


@signal("shoulder_over_hip")
def shoulder_over_hip(track: Track, params: NoParams) -> Raw:
    """How far the shoulder lies from the hip: of the near side in side views, of both middles in others.

    Only its changes mean anything: the trunk's pitch changes it as well.
    """
    names = tuple(f"{_side_or_middle(track)}_{part}" for part in ("hip", "shoulder"))
    values, unit = length(track, distance(*(track.xy(name) for name in names)))
    return Raw(values, unit, names)


@signal("shoulder_to_ear")
def shoulder_to_ear(track: Track, params: NoParams) -> Raw:
    """How far the shoulder has come up to the ear, along the trunk; minus while it lies below.

    Only its changes mean anything: the head's pitch changes it as well.
    """
    names = tuple(f"{_side_or_middle(track)}_{part}" for part in ("hip", "shoulder", "ear"))
    hip, shoulder, ear = (track.xy(name) for name in names)
    along = (shoulder - hip) / distance(hip, shoulder)[:, None]
    values, unit = length(track, np.sum((shoulder - ear) * along, axis=-1))
    return Raw(values, unit, names[1:])


def _side_or_middle(track: Track) -> str:
    return track.near if track.view.is_side else "mid"


@signal("height_difference", ViaParams)
def height_difference(track: Track, params: ViaParams) -> Raw:
    """How much higher the left hand (or elbow) is than the right one (front and rear views)."""
    names = (f"left_{params.via}", f"right_{params.via}")
    values, unit = length(track, track.still_xy(names[1])[:, 1] - track.still_xy(names[0])[:, 1])
    return Raw(values, unit, points=names, unjudgeable=off_view(front_off_deg(track), "front"))


@signal("arm_below_level")
def arm_below_level(track: Track, params: NoParams) -> Raw:
    """Degrees of the upper arms below the horizontal (front and rear views).

    Of the arm that has sunk less from its own usual level, so that one sunken arm is left to the check
    of uneven sides. From how far the elbow lies below the shoulder over the arm's length, so that an arm
    pointing at the camera is measured as well; the length is the longest seen in the set.
    """
    sides, points = [], []
    for side in ("left", "right"):
        shoulder, elbow = track.still_xy(f"{side}_shoulder"), track.still_xy(f"{side}_elbow")
        reach = distance(shoulder, elbow)
        longest = known_percentile(reach, LONGEST_PERCENTILE)
        sine = np.clip((elbow[:, 1] - shoulder[:, 1]) / longest, -1.0, 1.0)
        sides.append(np.degrees(np.arcsin(sine)))
        points.append((f"{side}_shoulder", f"{side}_elbow"))
    both = np.array(sides)
    never_seen = np.isnan(both).all(axis=1).any()
    usual = np.nan if never_seen else np.nanmedian(both, axis=1, keepdims=True)
    values = np.mean(usual) + np.min(both - usual, axis=0)
    return Raw(
        values,
        "deg",
        points=points[track.near == "right"],
        unjudgeable=off_view(front_off_deg(track), "front"),
    )


@signal("elbow_by_lengths")
def elbow_by_lengths(track: Track, params: NoParams) -> Raw:
    """Included elbow angle of arms held out in front, mean of both (front and rear views).

    A segment seen shorter than it is points towards the camera by as much (Taylor 2000, Computer Vision
    and Image Understanding 80:349, from memory); how long it is, is the longest it was seen in the set. Its
    own value is off by 20 degrees and more; compare repetitions with each other.
    """
    arms = [_arm_by_lengths(track, side) for side in ("left", "right")]
    names = tuple(f"{track.near}_{p}" for p in ("shoulder", "elbow", "wrist"))
    return Raw(
        (arms[0] + arms[1]) / 2.0, "deg", points=names, unjudgeable=off_view(front_off_deg(track), "front")
    )


def _arm_by_lengths(track: Track, side: str) -> Floats:
    shoulder, elbow, wrist = (track.xy(f"{side}_{part}") for part in ("shoulder", "elbow", "wrist"))
    upper, fore = (_towards_camera(px) for px in (elbow - shoulder, wrist - elbow))
    cosine = np.sum(upper * fore, axis=1)
    return np.asarray(180.0 - np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def _towards_camera(px: Floats) -> Floats:
    """Directions (T, 3) of a segment seen as px (T, 2), its end nearer to the camera than its start."""
    seen = np.linalg.norm(px, axis=1)
    longest = known_percentile(seen, LONGEST_PERCENTILE)
    flat = px / np.maximum(seen, longest)[:, None]
    return np.column_stack([flat, np.sqrt(np.maximum(0.0, 1.0 - np.sum(flat**2, axis=1)))])
