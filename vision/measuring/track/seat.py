"""Hips put back on the seat: seen from the side, the landmark model moves them up and down the trunk.

Where the thighs lie on the seat the hips keep their height over the knees. The model does not know that:
within one set its hips jump by up to a fifth of the trunk along a slanting line, which looks like a
leaning trunk. What they rise or fall is taken for that error, and so is what goes with it to and fro.
Hips and shoulders that both lie beside the seat are somebody else's.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Floats, Track
from shared.keypoints import INDEX

#: Forward error of a hip for each unit that it is told too high: 0.43 (leg curl) and 0.71 (leg
#: extension) on the tuning clips; it leaves half of the largest errors.
FORWARD_PER_RISE = 0.55
#: A body so far from its usual place, in trunk lengths, is another close by; who has stood up is farther.
BESIDE = (0.2, 0.8)
#: Both lie beside the seat where somebody else does; hips alone may slide there.
TRUNK = ("hip", "shoulder")


def on_seat(track: Track) -> Track:
    """The track with both hips at their usual height over the near knee; a side view only."""
    if track.facing == 0:
        return track
    points = track.points_px.copy()
    knee = track.xy(f"{track.near}_knee")[:, 1]
    for side in ("left", "right"):
        hip = points[:, INDEX[f"{side}_hip"]]
        drop = hip[:, 1] - knee
        if np.isnan(drop).all():
            continue
        drop = np.nan_to_num(drop - np.nanmedian(drop))
        hip[:, 0] += track.facing * FORWARD_PER_RISE * drop
        hip[:, 1] -= drop
    return replace(track, points_px=points, log=(*track.log, "hips kept at their height over the seat"))


def beside_seat_share(track: Track, parts: tuple[str, ...] = TRUNK) -> float:
    """The share of the time on the seat, from first to last, in which all of these parts are read beside it.

    0 where they are not known. Nobody on a seat moves both so far: the landmark model took somebody else, or
    a reflection, for the person, or the phone was moved.
    """
    off = np.min([_off(track, part) for part in parts], axis=0)
    off = off[~np.isnan(off)]
    seated = np.flatnonzero(off < BESIDE[0])
    between = off[seated[0] : seated[-1] + 1] if len(seated) else off[:0]
    return float(np.mean((between > BESIDE[0]) & (between < BESIDE[1]))) if len(between) else 0.0


def _off(track: Track, part: str) -> Floats:
    """How far both sides of a part lie from their usual places, trunk lengths (T,); NaN where not known."""
    both = np.stack([track.still_xy(f"{side}_{part}") for side in ("left", "right")], axis=1)
    known = np.isfinite(both).all(axis=(1, 2))
    off = np.full(len(both), np.nan)
    if known.any():
        usual = np.median(both[known], axis=0)
        # Left taken for right is no other place.
        readings = [np.linalg.norm(both[known] - one, axis=-1).mean(axis=-1) for one in (usual, usual[::-1])]
        off[known] = np.min(readings, axis=0) / track.trunk_px
    return off
