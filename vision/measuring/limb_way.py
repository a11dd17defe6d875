"""How far the end of a limb went in each repetition, and what that says where its joint seems to go less.

An elbow that turns to the camera, or a hand pushed down past the chest, bends less in the picture than the
load moved: the hand or the foot itself then still goes its way. How far that is at each share of the usual
range is told by the set's full repetitions, so that joint and limb are told in the same measure.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Floats, Rep, RepSet, Track
from vision.measuring.reps import FULL_SHARE

#: A point that usually goes less than so far, in trunk lengths, rests beside the load.
GOES_TRUNKS = 0.15
#: A joint that tells so much less of the usual range than its hand or foot was turned to the camera. On 125
#: rendered sets, some of them drawn over, hands were then off by 0.07 of the range, joints by 0.2 to 0.5.
APART = 0.15
#: Who went so far in a straight line turned a hinge by more than the seven tenths that make a full one.
NEARLY = 0.9
#: Further than this share of the usual range a repetition is whole, and hands tell nothing more.
WHOLE_SHARE = 0.85
#: A lift is known by so many samples at least.
FEWEST = 5
_SHARES = np.linspace(0.0, 1.0, 21)


def went(track: Track, reps: RepSet, name: str) -> Floats:
    """How far a point is from its start at the lift end of each movement, in shares of the usual, (R,).

    NaN where it is not known, or where the point usually hardly moves.
    """
    far = _far(track.still_xy(name), track.time_s, reps)
    known = far[~np.isnan(far)]
    usual = float(np.median(known)) if len(known) else 0.0
    return np.asarray(far / usual) if usual > GOES_TRUNKS * track.trunk_px else np.full(len(far), np.nan)


def with_limbs_way(track: Track, reps: RepSet, ends: tuple[str, ...], load: Floats) -> RepSet:
    """The set with its short repetitions as far as hand or foot went, where the joint tells clearly less.

    ends: the points at the load, the least of which is told; load (T,): the drive, rising in a lift.
    """
    shares = np.min([_share_by_limb(track, reps, end, load) for end in ends], axis=0)
    ways = np.min([_way_of_full(track, reps, end) for end in ends], axis=0)
    found = zip(reps.reps, shares, ways, strict=True)
    return replace(reps, reps=tuple(_by_limb(rep, share, way=way) for rep, share, way in found))


def _by_limb(rep: Rep, share: float, way: float) -> Rep:
    if rep.range_share < WHOLE_SHARE and share - rep.range_share > APART:
        unsure = (share - rep.range_share) / 2
        return replace(rep, partial=share < FULL_SHARE, range_share=share, range_unsure=unsure)
    if rep.partial and way >= NEARLY:
        unsure = (min(way, 1.0) - rep.range_share) / 2
        return replace(rep, partial=False, range_share=rep.range_share + unsure, range_unsure=unsure)
    return rep


def _way_of_full(track: Track, reps: RepSet, name: str) -> Floats:
    """How far a point went in each repetition, in shares of the full ones' way, (R,)."""
    ways = went(track, reps, name)
    own = ways[[not rep.partial for rep in reps.reps]]
    return ways / np.nanmedian(own) if len(own) and not np.isnan(own).all() else np.full(len(ways), np.nan)


def _share_by_limb(track: Track, reps: RepSet, name: str, load: Floats) -> Floats:
    """The share of the usual range of each repetition by how far a point went, (R,).

    None went further than the full ones mostly do.
    """
    place, time_s = track.still_xy(name), track.time_s
    ways = [_way(place, time_s, rep, load) for rep in reps.full]
    known = [way for way in ways if way is not None]
    if not known or np.median(known, axis=0)[-1] <= GOES_TRUNKS * track.trunk_px:
        return np.full(len(reps.reps), np.nan)
    usual = np.maximum.accumulate(np.median(known, axis=0)) + 1e-6 * np.arange(len(_SHARES))
    whole = min(1.0, float(np.median([rep.range_share for rep in reps.full])))
    return np.asarray(np.interp(_far(place, time_s, reps), usual, np.minimum(_SHARES, whole)))


def _way(place: Floats, time_s: Floats, rep: Rep, load: Floats) -> Floats | None:
    """How far a point is from its start at each share of the usual range in a lift; None if not known."""
    lift = slice(*np.searchsorted(time_s, (rep.start_s, rep.turn_s)))
    far = np.linalg.norm(place[lift] - place[lift][:1], axis=-1)
    known = ~(np.isnan(load[lift]) | np.isnan(far))
    if np.count_nonzero(known) < FEWEST:
        return None
    part = load[lift][known]
    share = rep.range_share * (part - part[0]) / max(float(part.max() - part[0]), 1e-9)
    order = np.argsort(share)
    return np.asarray(np.interp(_SHARES, share[order], far[known][order]))


def _far(place: Floats, time_s: Floats, reps: RepSet) -> Floats:
    """How far a point (T, 2) is at each lift end from where it was at the start, (R,) px; NaN: not known."""
    moments = [(rep.start_s, (rep.turn_s + rep.lower_start_s) / 2) for rep in reps.reps]
    rows = np.clip(np.searchsorted(time_s, moments), 0, len(place) - 1)
    return np.asarray(np.linalg.norm(np.diff(place[rows], axis=1)[:, 0], axis=-1))
