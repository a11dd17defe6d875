"""How far the end of a limb went in each repetition, and what that says where its joint seems to go less.

An elbow that turns to the camera bends less in the picture than the load moved: the hand or the foot itself
then still goes its way. How far that is at each share of the usual range is told by the set's full
repetitions, so that joint and limb are told in the same measure. A hand that swings off that way has not
gone further on it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Floats, Rep, RepSet, Track
from shared.drive import FULL_SHARE

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
    far = np.linalg.norm(_moved(track.still_xy(name), track.time_s, reps), axis=-1)
    known = far[~np.isnan(far)]
    usual = float(np.median(known)) if len(known) else 0.0
    return np.asarray(far / usual) if usual > GOES_TRUNKS * track.trunk_px else np.full(len(far), np.nan)


def with_limbs_way(track: Track, reps: RepSet, ends: tuple[str, ...], load: Floats) -> RepSet:
    """The set with its short repetitions as far as hand or foot went, where the joint tells clearly less.

    ends: the points at the load, the least of which is told; load (T,): the drive, rising in a lift.
    """
    if not reps.full:
        return reps
    found = [_shares(track, reps, end, load) for end in ends]
    hinge, straight = (np.min([one[i] for one in found], axis=0) for i in (0, 1))
    both = zip(reps.reps, hinge.tolist(), straight.tolist(), strict=True)
    return replace(reps, reps=tuple(_by_limb(rep, share, way=way) for rep, share, way in both))


def _by_limb(rep: Rep, share: float, way: float) -> Rep:
    if rep.range_share < WHOLE_SHARE and share - rep.range_share > APART:
        unsure = (share - rep.range_share) / 2
        return replace(rep, partial=share < FULL_SHARE, range_share=share, range_unsure=unsure)
    if rep.partial and way >= NEARLY and way - rep.range_share > APART:
        unsure = (min(way, 1.0) - rep.range_share) / 2
        return replace(rep, partial=False, range_share=rep.range_share + unsure, range_unsure=unsure)
    return rep


def _shares(track: Track, reps: RepSet, name: str, load: Floats) -> tuple[Floats, Floats]:
    """How far a point went in each repetition, twice (R,), in shares of the usual range; NaN if not known.

    By what the full ones show at each share of the drive, so that it is no better than the joint was there,
    and by the straight way alone, which asks no joint. Only what goes along their way counts; by the first,
    none went further than they mostly do.
    """
    place, time_s = track.still_xy(name), track.time_s
    full = [i for i, rep in enumerate(reps.reps) if not rep.partial]
    moved = _moved(place, time_s, reps)
    seen = moved[full][~np.isnan(moved[full]).any(axis=1)]
    usual = np.median(seen, axis=0) if len(seen) else np.zeros(2)
    size = float(np.linalg.norm(usual))
    if size <= GOES_TRUNKS * track.trunk_px:
        return np.full(len(moved), np.nan), np.full(len(moved), np.nan)
    ways = [_way(place @ usual / size, time_s, rep, load) for rep in reps.full]
    known = [way for way in ways if way is not None]
    if not known:
        return np.full(len(moved), np.nan), np.full(len(moved), np.nan)
    whole = min(1.0, float(np.median([rep.range_share for rep in reps.full])))
    far = moved @ usual / size
    course = np.maximum.accumulate(np.median(known, axis=0)) + 1e-6 * np.arange(len(_SHARES))
    return np.asarray(np.interp(far, course, np.minimum(_SHARES, whole))), np.asarray(whole * far / size)


def _way(along: Floats, time_s: Floats, rep: Rep, load: Floats) -> Floats | None:
    """How far a point is along its way at each share of the usual range in a lift; None if not known.

    along (T,): its place on the straight line of the usual way, px.
    """
    lift = slice(*np.searchsorted(time_s, (rep.start_s, rep.turn_s)))
    far = along[lift] - along[lift][:1]
    known = ~(np.isnan(load[lift]) | np.isnan(far))
    if np.count_nonzero(known) < FEWEST:
        return None
    part = load[lift][known]
    share = rep.range_share * (part - part[0]) / max(float(part.max() - part[0]), 1e-9)
    order = np.argsort(share)
    return np.asarray(np.interp(_SHARES, share[order], far[known][order]))


def _moved(place: Floats, time_s: Floats, reps: RepSet) -> Floats:
    """Where a point (T, 2) is at each lift end, against where it was at the start, (R, 2) px."""
    moments = [(rep.start_s, (rep.turn_s + rep.lower_start_s) / 2) for rep in reps.reps]
    rows = np.clip(np.searchsorted(time_s, moments), 0, len(place) - 1)
    return np.asarray(np.diff(place[rows], axis=1)[:, 0])
