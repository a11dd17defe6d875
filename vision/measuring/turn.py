"""How far the camera stands off a side, front or rear view."""

from __future__ import annotations

import numpy as np

from shared.domain import Track
from vision.common.pinhole import focal_px

#: The camera's turn off the side view from how far the far hip and shoulder show beside the near ones:
#: degrees = TURN_SLOPE * (share of the trunk) + TURN_BASE, on 25 rendered tuning clips.
TURN_SLOPE, TURN_BASE = 111.0, -5.7


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


def front_off_deg(track: Track) -> float:
    """Degrees off the nearest pure front or rear view."""
    return min(abs(track.view.yaw_deg), 180.0 - abs(track.view.yaw_deg))
