"""Looks in which the landmark model read a point elsewhere: left out before anything is measured.

A limb has mass: it does not jump away and be back at once. A point that leaves its way with a jump and comes
back to it with another within ``LONGEST_S`` was read wrongly in between; so was one that stretches a bone
far beyond the length it mostly has. What counts as a jump goes by how fast that point otherwise moves in
this clip.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from shared.domain import Floats, Landmarks
from shared.keypoints import INDEX
from vision.common.geometry import distance
from vision.common.poses import torso

#: Longest spell of wrong looks that is told from movement by its two jumps, s: of one point, and of a whole
#: trunk, which nobody on a seat moves in a tenth of a second.
LONGEST_S, LONGEST_TRUNK_S = 0.85, 3.0
#: A jump: trunk lengths, and times the step that nine in ten steps of this point stay within.
JUMP_TRUNKS, JUMP_STEPS = 0.14, 3.0
#: Steps before a jump away and after the one back are at most this share of it: a limb gathers speed first.
ABRUPT = 0.5
#: The way back leads to where the point went on from: within this share of the smaller jump, or, where the
#: limb may have moved on by more meanwhile, within the larger.
BACK_SHARE, BACK_SHARE_MOVING = 0.5, 0.8
#: A bone seen this many times as long as in nine looks of ten was read wrongly at its outer end.
STRETCHED = 1.5
USUAL_PERCENTILE = 90.0
#: Where so many of shoulders and hips slip at once, the whole look was of something else.
WHOLE_BODY = 3
#: A look is wild where half of trunk and head lie this far off their running median over so many looks, in
#: trunk lengths and in times what nine in ten looks stay within: it flickers, as when somebody passes.
WILD_TRUNKS, WILD_TIMES, WILD_LOOKS = 0.05, 4.0, 5
#: So few looks between two wild ones are wild as well.
CALM_LOOKS = 3
_TORSO = [INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("shoulder", "hip")]
_BODY = [*_TORSO, *(INDEX[name] for name in ("nose", "left_ear", "right_ear"))]
_CHAINS = (("shoulder", "elbow", "wrist"), ("hip", "knee", "ankle"))
_BEYOND = {
    "elbow": ("elbow", "wrist", "pinky", "index", "thumb"),
    "wrist": ("wrist", "pinky", "index", "thumb"),
    "knee": ("knee", "ankle", "heel", "foot_index"),
    "ankle": ("ankle", "heel", "foot_index"),
}


def slipped(points: Floats, time_s: Floats) -> np.ndarray:
    """Which points of which looks were read elsewhere, (N, 33) bool.

    points (N, 33, 2) px, NaN where not known; time_s (N,).
    """
    out = np.zeros(points.shape[:2], dtype=bool)
    known = ~np.isnan(points[:, 0, 0])
    if np.count_nonzero(known) < 12:
        return out
    trunk = float(np.nanmedian(torso(points[known])[1]))
    for k in range(points.shape[1]):
        out[:, k] = _left_and_came_back(points[:, k], time_s, trunk, LONGEST_S)
    body = [_left_and_came_back(points[:, k], time_s, trunk, LONGEST_TRUNK_S) for k in _TORSO]
    out[np.count_nonzero(body, axis=0) >= WHOLE_BODY] = True
    out[_wild(points, trunk)] = True
    return np.asarray(out | _stretched(np.where(out[..., None], np.nan, points)))


def without_slips(look: Landmarks) -> Landmarks:
    """Landmarks of one person without the places of slipped points; those of several as they are."""
    if look.people != 1:
        return look
    slips = slipped(look.image_px[:, 0, :, :2], look.time_s)
    image, world = look.image_px.copy(), look.world_m.copy()
    image[:, 0][slips], world[:, 0][slips] = np.nan, np.nan
    return replace(look, image_px=image, world_m=world)


def _wild(points: Floats, trunk: float) -> np.ndarray:
    """Looks in which trunk and head flicker, and those between them, (N,) bool."""
    rows = np.flatnonzero(~np.isnan(points[:, _BODY]).any(axis=(1, 2)))
    out = np.zeros(len(points), dtype=bool)
    if len(rows) < WILD_LOOKS:
        return out
    body = points[rows][:, _BODY]
    padded = np.pad(body, ((WILD_LOOKS // 2,) * 2, (0, 0), (0, 0)), mode="edge")
    usual = np.median(sliding_window_view(padded, WILD_LOOKS, axis=0), axis=-1)
    off = np.median(distance(body, usual), axis=1)
    limit = max(WILD_TRUNKS * trunk, WILD_TIMES * float(np.percentile(off, USUAL_PERCENTILE)))
    wild = rows[off > limit]
    out[wild] = True
    for one, other in pairwise(wild.tolist()):
        if other - one <= CALM_LOOKS + 1:
            out[one:other] = True
    return out


def _left_and_came_back(point: Floats, time_s: Floats, trunk: float, longest_s: float) -> np.ndarray:
    """Looks between two jumps of one point (N, 2) of which the second undoes the first, (N,) bool."""
    out = np.zeros(len(point), dtype=bool)
    rows = np.flatnonzero(~np.isnan(point).any(axis=-1))
    if len(rows) < 3:
        return out
    places, times = point[rows], time_s[rows]
    step = distance(places[1:], places[:-1])
    usual = float(np.percentile(step, USUAL_PERCENTILE))
    jump = max(JUMP_TRUNKS * trunk, JUMP_STEPS * usual)
    jumps = np.flatnonzero(step > jump)
    around = np.concatenate([[0.0], step, [0.0]])
    after = 0
    for j, leaving in enumerate(jumps.tolist()):
        if leaving < after:
            continue
        for coming in jumps[j + 1 :].tolist():
            if times[coming + 1] - times[leaving] > longest_s:
                break
            least = min(step[leaving], step[coming])
            if max(around[leaving], around[coming + 2]) > ABRUPT * least:
                continue
            way = distance(places[coming + 1], places[leaving])
            goes_on = np.clip(usual * (coming - leaving + 1) / jump, BACK_SHARE, BACK_SHARE_MOVING)
            if way <= goes_on * least:
                out[rows[leaving + 1 : coming + 1]] = True
                after = coming + 1
                break
    return out


def _stretched(points: Floats) -> np.ndarray:
    """Outer ends of bones that are far longer than they mostly are, and all beyond, (N, 33) bool."""
    out = np.zeros(points.shape[:2], dtype=bool)
    for side in ("left", "right"):
        for chain in _CHAINS:
            for inner, outer in pairwise(chain):
                size = distance(points[:, INDEX[f"{side}_{inner}"]], points[:, INDEX[f"{side}_{outer}"]])
                known = size[~np.isnan(size)]
                if not len(known):
                    continue
                with np.errstate(invalid="ignore"):
                    long = size > STRETCHED * float(np.percentile(known, USUAL_PERCENTILE))
                for part in _BEYOND[outer]:
                    out[long, INDEX[f"{side}_{part}"]] = True
    return out
