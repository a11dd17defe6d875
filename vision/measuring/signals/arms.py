"""Signals of arms that open and close: how far out they are held, and how far ahead."""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Track
from shared.keypoints import INDEX
from vision.common.geometry import distance, included_angle
from vision.measuring.signals.angles import JOINT_POINTS
from vision.measuring.signals.fold import unfolded
from vision.measuring.signals.signal import Raw, ViaParams, facing, off_view, signal
from vision.measuring.track.camera_yaw import camera_turn_deg, front_off_deg, in_space_off_deg
from vision.measuring.track.filters import known_percentile

#: Lifts that end with the arms wide come to about this; what looks narrower than that share of the usual
#: reach does not end wide.
WIDE_DEG, WIDEST_PERCENTILE, LEAST_REACH = 80.0, 98, 0.85
#: Metres of a landmark in space that count as one trunk length.
TRUNK_M = 0.5
#: Elbows that the landmarks in space show bent by up to this much are those flies are made with.
HARDLY_BENT_DEG = 40.0
#: An arm is this much longer than it reaches ahead with the hands together: they are off it by ten degrees.
FARTHEST_OVER_SEEN = 1.0 / float(np.cos(np.radians(10.0)))
#: Drillis and Contini in Winter 2009: upper arm .186, forearm .146, shoulder width .259 of stature;
#: landmark shoulders are joint centres, about 0.8 of that width apart (measured on rendered people).
REACH_OVER_SHOULDERS = {"wrist": (0.186 + 0.146) / (0.8 * 0.259), "elbow": 0.186 / (0.8 * 0.259)}


class ArmParams(ViaParams):
    """lifts_wide: whether the lift ends with the arms wide, and may go on past the body's plane."""

    lifts_wide: bool = False


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
    if track.view.is_side:
        return _arm_ahead(track, params)
    gap = hand_gap(track, params)
    beside = (gap.values - 1.0) / 2.0
    sine = np.clip(beside / _reach(track, beside, params), -1.0, 1.0)
    values = unfolded(np.degrees(np.arcsin(sine)), _arm_depth(track), params.lifts_wide)
    return Raw(values, "deg", gap.points, gap.unjudgeable)


def _reach(track: Track, beside: Floats, params: ArmParams) -> Floats:
    """How far the hands lie beside their shoulders with the arms straight out, in shoulder widths, (T,).

    Where the lift ends with the arms wide, by the widest that the set shows: a camera close by shows hands
    that are ahead of the body larger, so that arms half open seem to be straight out. A set that is short
    from its first repetition to its last is told too wide for it. Elsewhere by the segments' length (Drillis
    and Contini), less where the elbow is clearly bent.
    """
    usual = REACH_OVER_SHOULDERS[params.via]
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
        included_angle(*(track.world_m[:, INDEX[f"{side}_{part}"]] for part in JOINT_POINTS["elbow"]))
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


def _shoulder_px(track: Track) -> float:
    width = distance(track.xy("left_shoulder"), track.xy("right_shoulder"))
    return known_percentile(width, 50)
