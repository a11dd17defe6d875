"""Which moments of a clip belong to the set: the body keeps to the way that it takes in the set.

The seat and the handle or pad are fixed to the machine, so hips and the limb's end take the same way in the
picture in every repetition, however well or badly it is done. Where they leave it, or the trunk bends far
from its usual course before or after the set, the person gets in or out, reaches for something, wipes the
face or talks: whatever the joint does there is no repetition. Of a full one only ``strangers`` says so.
"""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Rep, RepSet, Track
from vision.measuring.track.filters import runs, within

#: How far from its usual way a part may be, in trunk lengths and in times its own spread about that way; from
#: the design part of tests/variety. Faults stay within: a trunk that leans 20 degrees too far moves the
#: shoulders by a third of its length, sunken or uneven arms the hands by a quarter.
OFF_TRUNKS = {"hip": 0.3, "shoulder": 0.55, "end": 0.3}
OFF_SPREADS = 4.0
#: Who goes that far off left the way where this share of it was passed.
LEAVING_SHARE = 0.5
#: A partial repetition of which this share is off in any way is none of the set; of a full one ``strangers``
#: tells, since arms that sink leave the way as well.
STRANGE_SHARE = 0.6
#: Shorter spells off the way, and shorter spells on it between two off it, are not told from noise, s.
SHORTEST_S = 0.3
#: The way goes on past its ends by this much of their last quarter: who hangs on straight arms is still on
#: it.
BEYOND = 1.5
#: So many places along the way up and the way down make the usual way.
PLACES = 16


def belongs(track: Track, reps: RepSet, ends: tuple[str, ...]) -> np.ndarray:
    """Whether each moment may belong to the set, (T,) bool; what is not known may.

    reps: the set as the drive alone tells it; ends: the points that the load hangs on.
    """
    limits = {f"{track.near}_hip": "hip", f"{track.near}_shoulder": "shoulder"} | dict.fromkeys(ends, "end")
    both = [_off(track, reps, name=name, trunks=OFF_TRUNKS[part]) for name, part in limits.items()]
    least = round(SHORTEST_S * track.rate_hz)
    surely, off = (_lasting(np.any(found, axis=0), least) for found in zip(*both, strict=True))
    full = reps.full
    first, last = full[0], full[-1]
    for rep in reps.reps:
        inside = during(track, rep)
        if rep.partial and np.count_nonzero(surely[inside]) >= max(1.0, STRANGE_SHARE * surely[inside].size):
            continue
        # Whatever is off within a repetition of the set is a fault of it, or a slip.
        off[inside] = surely[inside] & _reaching(track.time_s[inside], rep, first=first, last=last)
    return ~off


def _reaching(time_s: Floats, rep: Rep, first: Rep, last: Rep) -> np.ndarray:
    """The moments of a set's first and last repetition at which the hand may still come, or go already."""
    before = (rep is first) & (time_s < (rep.start_s + rep.turn_s) / 2)
    return np.asarray(before | ((rep is last) & (time_s > (rep.lower_start_s + rep.end_s) / 2)))


def during(track: Track, rep: Rep) -> slice:
    """The samples of a repetition."""
    return within(track.time_s, rep.start_s, rep.end_s)


def load_ends(points: tuple[str, ...]) -> tuple[str, ...]:
    """Those of a drive's points that the load hangs on: both hands, or the outer end of one limb."""
    hands = tuple(p for p in points if p.split("_")[1] == points[-1].split("_")[1])
    return hands if len(hands) > 1 else points[-1:]


def _off(track: Track, reps: RepSet, name: str, trunks: float) -> tuple[np.ndarray, np.ndarray]:
    """Moments at which a point is known to lie off its usual way, (T,) bool, and those about them as well."""
    far = far_off(track, reps, name)
    inside = np.zeros(len(far), dtype=bool)
    for rep in reps.full:
        inside[during(track, rep)] = True
    own = far[inside & ~np.isnan(far)]
    spread = 1.4826 * float(np.median(own)) if len(own) else 0.0
    limit = max(trunks * track.trunk_px, OFF_SPREADS * spread)
    with np.errstate(invalid="ignore"):
        return np.asarray(far > limit), _whole_spells(far > limit, far > LEAVING_SHARE * limit)


def far_off(track: Track, reps: RepSet, name: str) -> Floats:
    """How far a point lies from its usual way, (T,) px; NaN where it is not known.

    The end of a limb keeps its way in the picture, or against the shoulder: a trunk that leans takes it
    along.
    """
    places = [track.still_xy(name)]
    if not name.endswith(("hip", "shoulder")):
        places.append(places[0] - track.still_xy(f"{track.near}_shoulder"))
    apart = []
    for place in places:
        way = _usual_way(place, track.time_s, reps)
        if way is None:
            return np.full(len(place), np.nan)
        apart.append(_nearest(place, way))
    return np.asarray(np.min(apart, axis=0))


def _nearest(place: Floats, way: Floats) -> Floats:
    """Distance (T,) of a point (T, 2) to the nearest place of a way (K, 2)."""
    x, y = (np.ascontiguousarray(place[:, axis]) for axis in (0, 1))
    nearest = np.full(len(place), np.inf)
    for at_x, at_y in way.tolist():
        np.minimum(nearest, (x - at_x) ** 2 + (y - at_y) ** 2, out=nearest)
    return np.asarray(np.sqrt(nearest))


def _whole_spells(surely: np.ndarray, perhaps: np.ndarray) -> np.ndarray:
    """The spells of ``perhaps`` in which there is a moment that is ``surely``."""
    out = np.zeros(len(surely), dtype=bool)
    for start, stop in runs(perhaps):
        out[start:stop] = surely[start:stop].any()
    return out


def _usual_way(place: Floats, time_s: Floats, reps: RepSet) -> Floats | None:
    """Median places (K, 2) of a point along full repetitions and past their ends; None where hardly known."""
    ways = []
    share = np.linspace(0.0, 1.0, PLACES)
    known = ~np.isnan(place).any(axis=1)
    if np.count_nonzero(known) < PLACES:
        return None
    known_s, x, y = time_s[known], place[known, 0], place[known, 1]
    for rep in reps.full:
        up = rep.start_s + share * (rep.turn_s - rep.start_s)
        down = rep.lower_start_s + share * (rep.end_s - rep.lower_start_s)
        moments = np.concatenate([up, down])
        ways.append(np.stack([np.interp(moments, known_s, one) for one in (x, y)], axis=-1))
    way = np.asarray(np.median(ways, axis=0))
    outward = [(way[a], way[a] - way[b]) for a, b in ((0, 4), (PLACES - 1, PLACES - 5))]
    ends = [end + share * BEYOND * quarter for end, quarter in outward for share in (1 / 3, 2 / 3, 1.0)]
    return np.concatenate([way, ends])


def _lasting(off: np.ndarray, least: int) -> np.ndarray:
    """Spells of at least so many samples, once short spells between two of them are filled."""
    out = off.copy()
    for start, stop in runs(~out):
        if start > 0 and stop < len(out) and stop - start < least:
            out[start:stop] = True
    for start, stop in runs(out):
        if stop - start < least and start > 0 and stop < len(out):
            out[start:stop] = False
    return out
