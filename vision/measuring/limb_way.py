"""How far the end of a limb went in each repetition, and what that says where its joint seems to go less.

An elbow that turns to the camera, or a hand pushed down past the chest, bends less in the picture than the
load moved: the hand or the foot itself then still goes its whole way. Both are told, and neither is believed
alone: a repetition is counted when the limb went the whole way, and its range is as unsure as they are apart.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Floats, Rep, RepSet, Track

#: A point that usually goes less than so far, in trunk lengths, rests beside the load.
GOES_TRUNKS = 0.15
#: A limb that went this share of its usual way went all of it. On 125 rendered sets hands of short
#: repetitions went 0.60 to 0.76 of it, with one exception of 0.89 in a poor picture; those of whole ones
#: whose elbow seemed to bend too little 0.82 to 1.44.
WHOLE_WAY = 0.8


def went(track: Track, reps: RepSet, name: str) -> Floats:
    """How far a point is from its start at the lift end of each movement, in shares of the usual, (R,).

    NaN where it is not known, or where the point usually hardly moves.
    """
    place = track.still_xy(name)
    moments = [(rep.start_s, (rep.turn_s + rep.lower_start_s) / 2) for rep in reps.reps]
    rows = np.clip(np.searchsorted(track.time_s, moments), 0, len(place) - 1)
    far = np.linalg.norm(np.diff(place[rows], axis=1)[:, 0], axis=-1)
    known = far[~np.isnan(far)]
    usual = float(np.median(known)) if len(known) else 0.0
    return np.asarray(far / usual) if usual > GOES_TRUNKS * track.trunk_px else np.full(len(far), np.nan)


def whole_by_the_limb(track: Track, reps: RepSet, ends: tuple[str, ...]) -> RepSet:
    """The set with those repetitions whole that are short by their joint alone.

    ends: the points at the load; all of them must have gone their whole way, which is that of the set's full
    repetitions.
    """
    least = np.min([went(track, reps, end) for end in ends], axis=0)
    own = least[[not rep.partial for rep in reps.reps]]
    if not len(own) or np.isnan(own).all():
        return reps
    ways = least / np.nanmedian(own)
    return replace(reps, reps=tuple(_with_way(*one) for one in zip(reps.reps, ways, strict=True)))


def _with_way(rep: Rep, way: float) -> Rep:
    if not (rep.partial and way >= WHOLE_WAY):
        return rep
    apart = min(way, 1.0) - rep.range_share
    return replace(rep, partial=False, range_share=rep.range_share + apart / 2, range_unsure=apart / 2)
