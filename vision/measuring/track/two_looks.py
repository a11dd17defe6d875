"""Two looks at one person -> one: their mean, or one of them where the other has a limb elsewhere.

The second look is at the same pictures mirrored, which the landmark model reads anew.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from scipy.spatial import KDTree

from shared.domain import Floats, Landmarks
from shared.keypoints import INDEX
from vision.common.between import at_moments
from vision.common.poses import torso
from vision.measuring.track.slips import without_slips

#: Two looks at one person agree when their points lie this near to each other, in trunk lengths (median).
AGREE_TRUNKS = 0.25
#: Both looks have a limb in one place where its joints are so near, in trunk lengths. Where they are not, one
#: of them has it elsewhere if it is so far from all such places, and the other not half as far.
NEAR_TRUNKS, ODD_TRUNKS, CLEARLY_TIMES = 0.1, 0.15, 2.0
#: Of two looks that do not agree one is off the seat if its hips lie so much farther from it, trunk lengths.
CLEARLY_TRUNKS = 0.1
#: Joints of a limb, and what hangs on them.
_LIMBS = [
    tuple([INDEX[f"{side}_{part}"] for part in parts.split()] for parts in limb)
    for side in ("left", "right")
    for limb in (("elbow wrist", "pinky index thumb"), ("knee ankle", "heel foot_index"))
]
_HIPS = [INDEX[f"{side}_hip"] for side in ("left", "right")]
#: The next look is no further away than this, s; where it was missed the other look alone tells.
NEXT_LOOK_S = 0.3


def mean_of_looks(first: Landmarks, second: Landmarks, seated: bool = True) -> Landmarks:
    """The mean of two looks at one person, at the moments of both, without the slips of either.

    Between its own moments a look goes straight on. Where they do not agree the first stands, unless its hips
    leave the seat (seated: there is one) and the other's do not; what one of them did not see, or read
    elsewhere, the other tells.
    """
    frame, at = np.unique(np.concatenate([first.frame, second.frame]), return_index=True)
    time_s = np.concatenate([first.time_s, second.time_s])[at]
    ours, theirs = (at_moments(without_slips(look), frame, time_s, NEXT_LOOK_S) for look in (first, second))
    agree = _apart(ours.image_px[..., :2], theirs.image_px[..., :2]) < AGREE_TRUNKS
    unseen = np.isnan(ours.image_px[..., 0])
    from_other = unseen & (agree | unseen.all(axis=-1))[..., None]
    from_other |= (seated & ~agree & _off_the_seat(ours.image_px, theirs.image_px, agree))[..., None]

    def both(mine: Floats, other: Floats) -> Floats:
        out = mine.copy()
        out[agree] = (mine[agree] + np.where(np.isnan(other), mine, other)[agree]) / 2.0
        out[from_other] = other[from_other]
        return out

    names = ("image_px", "world_m", "visibility", "presence")
    arrays = {name: both(getattr(ours, name), getattr(theirs, name)) for name in names}
    for look, alone in zip((ours, theirs), _alone(ours, theirs, agree), strict=True):
        for name in names:
            arrays[name][alone] = getattr(look, name)[alone]
    return Landmarks(frame=frame, time_s=time_s, model=f"{first.model}, mirrored too", **arrays)


def _alone(ours: Landmarks, theirs: Landmarks, agree: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Points that one look alone should tell, ours and theirs (N, P, 33), bool: in the other the limb is not.

    Where a limb of two looks that agree otherwise lies far apart, the one is wrong that has it where it never
    is while both have it in one place. agree (N, P).
    """
    one, other = ours.image_px[..., :2], theirs.image_px[..., :2]
    trunk = torso(one)[1]
    mine, its = np.zeros(one.shape[:-1], dtype=bool), np.zeros(one.shape[:-1], dtype=bool)
    for person, (joints, ends) in product(range(one.shape[1]), _LIMBS):
        places, its_places = one[:, person, joints], other[:, person, joints]
        apart = np.linalg.norm(places - its_places, axis=-1) / trunk[:, person, None]
        near = agree[:, person] & (apart < NEAR_TRUNKS).all(axis=1)
        rows = np.flatnonzero(
            agree[:, person] & (apart > NEAR_TRUNKS).any(axis=1) & np.isfinite(apart).all(axis=1)
        )
        if not near.any() or not len(rows):
            continue
        usual = KDTree(((places + its_places)[near] / 2.0).reshape(near.sum(), -1))
        off, its_off = (
            usual.query(at[rows].reshape(len(rows), -1))[0] / trunk[rows, person]
            for at in (places, its_places)
        )
        points = joints + ends
        mine[np.ix_(rows, np.array([person]), np.array(points))] = _clearly(off, its_off)
        its[np.ix_(rows, np.array([person]), np.array(points))] = _clearly(its_off, off)
    return mine, its


def _clearly(off: Floats, other_off: Floats) -> np.ndarray:
    """Where the other look has the limb elsewhere, and this one does not, (K, 1, 1) bool."""
    return np.asarray((other_off > ODD_TRUNKS) & (CLEARLY_TIMES * off < other_off))[:, None, None]


def _off_the_seat(ours: Floats, theirs: Floats, agree: np.ndarray) -> np.ndarray:
    """Where our hips lie farther from their usual place than the other look's, clearly, (N, P).

    A body that is read turned round, or beside itself, leaves the seat; a chest that drops does not.
    agree (N, P): the moments that tell the usual place.
    """
    hips = [look[..., _HIPS, :2] for look in (ours, theirs)]
    both = np.where(agree[..., None, None], (hips[0] + hips[1]) / 2.0, np.nan)
    known = np.isfinite(both).any(axis=(0, 2, 3))
    usual = np.full(both.shape[1:], np.nan)
    usual[known] = np.nanmedian(both[:, known], axis=0)
    off, their_off = (np.linalg.norm(hip - usual, axis=-1).mean(axis=-1) / torso(ours)[1] for hip in hips)
    with np.errstate(invalid="ignore"):
        return np.asarray(their_off + CLEARLY_TRUNKS < off)


def _apart(ours: Floats, theirs: Floats) -> Floats:
    """Median trunk lengths between the points that both looks know, (N, P); NaN where they share none."""
    apart = np.linalg.norm(ours - theirs, axis=-1)
    known = ~np.isnan(apart)
    ordered, middle = np.sort(apart, axis=-1), np.maximum(known.sum(axis=-1) - 1, 0) // 2
    median = np.take_along_axis(ordered, middle[..., None], axis=-1)[..., 0]
    with np.errstate(invalid="ignore"):
        return np.asarray(median / torso(ours)[1])
