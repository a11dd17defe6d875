"""How far the camera stands off a side, front or rear view."""

from __future__ import annotations

import numpy as np

from shared.domain import Track
from vision.common.pinhole import focal_px

#: The camera's turn off the side view from how far the far hip and shoulder show beside the near ones:
#: degrees = TURN_SLOPE * (share of the trunk) + TURN_BASE, on 25 rendered tuning clips.
TURN_SLOPE, TURN_BASE = 111.0, -5.7
#: Nine in ten estimates of a side view were within this, all of a front or rear view within that, degrees.
SIDE_HALF_DEG, FRONT_HALF_DEG = 7.0, 12.0
#: Shoulders seen straight from the front are at least so many trunk lengths apart: the narrowest of five
#: rendered people, arms ahead or overhead.
NARROWEST = 0.60


def camera_turn_deg(track: Track, inside: np.ndarray | None = None) -> float:
    """Degrees by which the camera stands off the side view, positive towards the person's front.

    inside: the moments that count, (T,) bool, all where not given. Told by the picture; by the landmarks in
    space, which are off by more, where hip or shoulder is not known.
    """
    far = "right" if track.near == "left" else "left"
    parts = [f"{side}_{part}" for part in ("hip", "shoulder") for side in (track.near, far)]
    x = np.stack([track.xy(part)[:, 0] for part in parts])
    x = x[:, ~np.isnan(x).any(axis=0) & (True if inside is None else inside)]
    if not x.shape[1]:
        return 90.0 - abs(track.view.yaw_deg)
    near_hip, far_hip, near_shoulder, far_shoulder = np.median(x, axis=1)
    share = (far_hip - near_hip + far_shoulder - near_shoulder) / 2.0 * track.facing / track.trunk_px
    sight = np.degrees(np.arctan((near_hip - track.picture[0] / 2) / focal_px(track.picture)))
    return float(TURN_SLOPE * share + TURN_BASE + sight * track.facing)


def side_off_deg(track: Track) -> float:
    """Degrees off the nearest pure side view."""
    return abs(camera_turn_deg(track)) if track.facing else in_space_off_deg(track)


def in_space_off_deg(track: Track) -> float:
    """Degrees off the nearest pure side view by the landmarks in space, by which learnt corrections go."""
    return abs(abs(track.view.yaw_deg) - 90.0)


def off_deg(track: Track) -> float:
    """Degrees off the view that the camera is nearest to."""
    return side_off_deg(track) if track.view.is_side else front_off_deg(track)


def side_doubt_deg(track: Track) -> float:
    """By how many degrees the camera may stand nearer to a side view than it was told to."""
    return min(side_off_deg(track), SIDE_HALF_DEG)


def front_doubt_deg(track: Track) -> float:
    """By how many degrees it may stand nearer to a front or rear view."""
    told = front_off_deg(track)
    return min(told, FRONT_HALF_DEG, max(0.0, told - _off_by_width_deg(track)))


def _off_by_width_deg(track: Track) -> float:
    """How far narrow shoulders must be turned to show so near each other; 0 where they are not known."""
    width = np.abs(track.xy("left_shoulder") - track.xy("right_shoulder"))[:, 0]
    known = width[~np.isnan(width)]
    if not len(known):
        return 0.0
    return float(np.degrees(np.arccos(min(1.0, float(np.median(known)) / track.trunk_px / NARROWEST))))


def front_off_deg(track: Track) -> float:
    """Degrees off the nearest pure front or rear view."""
    return min(abs(track.view.yaw_deg), 180.0 - abs(track.view.yaw_deg))
