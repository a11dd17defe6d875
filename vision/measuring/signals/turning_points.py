"""Where a drive turns, and whether the limb itself turned there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import median_filter

from shared.domain import Floats

#: The end of a limb that really turned goes at least this share of its usual way between two loads.
MOVED_SHARE = 0.4
#: Its place is the running median over so many samples.
SAMPLES = 7
#: It was somewhere on the way when it was as far away in so many samples, one after the other or not.
LASTING = 15


@dataclass(frozen=True)
class Way:
    """Where the end of a limb mostly is: place (K, 2) px at each load (K,), which rises."""

    load: Floats
    place: Floats

    def between(self, one: float, other: float) -> float:
        """How far it is from where the limb is at one load to where it is at another, px.

        Beyond the loads at which it was seen the limb is taken to go on as it goes on the whole.
        """
        inside = np.clip([one, other], self.load[0], self.load[-1])
        a, b = (np.array([np.interp(at, self.load, x) for x in self.place.T]) for at in inside)
        beyond = abs((other - one) - (inside[1] - inside[0]))
        whole = float(np.linalg.norm(self.place[-1] - self.place[0]))
        return float(np.linalg.norm(b - a) + beyond * whole / max(float(np.ptp(self.load)), 1e-9))


def turning_points(values: Floats, reversal: float) -> list[int]:
    """Indices of alternating lows and highs, each followed by a move back of at least ``reversal``.

    The first and the last extreme are included although nothing precedes or follows them.
    """
    low = high = 0
    direction = 0
    turns: list[int] = []
    plain: list[float] = values.tolist()
    for i, value in enumerate(plain):
        if value < plain[low]:
            low = i
        if value > plain[high]:
            high = i
        if direction >= 0 and plain[high] - value >= reversal:
            turns += [low] if direction == 0 and low < high else []
            turns.append(high)
            direction, low, high = -1, i, i
        elif direction <= 0 and value - plain[low] >= reversal:
            turns += [high] if direction == 0 and high < low else []
            turns.append(low)
            direction, low, high = 1, i, i
    if turns:
        turns.append(high if direction > 0 else low)
    return turns


def without_false_turns(
    turns: list[int], load: Floats, places: Sequence[Floats], ways: Sequence[Way]
) -> list[int]:
    """The turning points without pairs between which the limb's end hardly moved: a joint was read wrongly.

    places: where the end of the limb is, each (T, 2), in the picture or against the body; one of them must
    have moved. ways: the way that each mostly takes.
    """
    seen = np.all([~np.isnan(place).any(axis=1) for place in places], axis=0)
    whole = [settled(place) for place in places]
    turns = list(turns)
    while places and len(turns) > 3:
        false = []
        for i in range(1, len(turns) - 2):
            a, b = turns[i], turns[i + 1]
            stayed = all(
                _furthest(p[a : b + 1]) < MOVED_SHARE * way.between(load[a], load[b])
                for p, way in zip(whole, ways, strict=True)
            )
            if seen[a : b + 1].all() and stayed:
                false.append((abs(load[b] - load[a]), i))
        if not false:
            break
        least = min(false)[1]
        del turns[least : least + 2]
    return turns


def _furthest(place: Floats) -> float:
    """How far a place (T, 2) is from where it is first, at its end or for some time on the way there, px."""
    away = np.linalg.norm(place - place[0], axis=1)
    lasting = np.sort(away)[-LASTING] if len(away) > LASTING else 0.0
    return float(max(away[-1], lasting))


def settled(place: Floats) -> Floats:
    """A place (T, 2) without what lasts for a few samples only; gaps are passed over in a straight line."""
    known = ~np.isnan(place).any(axis=1)
    rows = np.arange(len(place))
    whole = [np.interp(rows, rows[known], place[known, axis]) for axis in (0, 1)]
    return np.stack([median_filter(one, size=SAMPLES, mode="nearest") for one in whole], axis=-1)
