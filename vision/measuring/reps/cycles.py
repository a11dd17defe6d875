"""The cycles of a drive, load-down end -> lift end -> load-down end, and those of them that are alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats
from vision.measuring.signals.turning_points import Way, settled

#: Cycles belong together when both ends agree within this share of the range.
SAME_ENDS = 0.35
#: Candidates at least this share of the set's largest make the usual range.
USUAL_SHARE = 0.60
#: Of two groups the set is the one with more cycles; a twitch that takes less than this counts for less, s.
WHOLE_S = 1.5
#: A repetition is made in one place for at least this share of its time.
STILL_SHARE = 0.6
#: A limb's way is told at so many levels of the load.
LEVELS = 13


@dataclass(frozen=True)
class Cycle:
    """Sample indices of one load-down end, the lift end after it, and the next load-down end."""

    down: int
    top: int
    next_down: int
    low: float
    high: float
    next_low: float

    @property
    def range(self) -> float:
        """How far the load goes up, in the drive's unit."""
        return self.high - self.low


def cycles_of(load: Floats, turns: list[int]) -> list[Cycle]:
    """Cycles between turning points."""
    out = []
    for i in range(len(turns) - 2):
        a, b, c = turns[i : i + 3]
        if load[b] > load[a] and load[b] > load[c]:
            out.append(
                Cycle(a, b, next_down=c, low=float(load[a]), high=float(load[b]), next_low=float(load[c]))
            )
    return out


def largest_group(cycles: list[Cycle], min_range: float, stays: Floats, whole: float) -> list[Cycle]:
    """The most cycles that share both ends with one of them; ties go to the larger range.

    whole: samples from which on a cycle counts for a whole one.
    """
    fit = [c for c in cycles if c.range >= min_range and is_still(c, stays)]
    low, high = (np.array([getattr(c, end) for c in fit]) for end in ("low", "high"))
    counts = np.array([min((c.next_down - c.down) / whole, 1.0) for c in fit])
    best, most = np.zeros(len(fit), dtype=bool), (0.0, 0.0)
    for seed in range(len(fit)):
        reach = SAME_ENDS * np.minimum(high - low, high[seed] - low[seed])
        alike = (np.abs(low - low[seed]) <= reach) & (np.abs(high - high[seed]) <= reach)
        size = (float(counts[alike].sum()), float(np.sum((high - low)[alike])))
        if size > most:
            best, most = alike, size
    return [fit[i] for i in np.flatnonzero(best)]


def usual_range_of(group: list[Cycle]) -> float:
    """Median range of the cycles that reach at least 60 % of the largest, each by the shorter of its ways.

    Who takes the handle, or lets it go, comes from further away than the load ever goes.
    """
    ranges = np.array([c.high - max(c.low, c.next_low) for c in group])
    return float(np.median(ranges[ranges >= USUAL_SHARE * ranges.max()]))


def travels_of(listed: list[Cycle], floor: float) -> Floats:
    """How far each cycle's load went, by the longer of its ways, (N,); none of them begins under floor."""
    return np.array([c.high - max(min(c.low, c.next_low), floor) for c in listed])


def floor_of(listed: list[Cycle]) -> float:
    """Where the set's loads lie down, in the drive's unit."""
    return float(np.median([low for c in listed for low in (c.low, c.next_low)]))


def way_of(group: list[Cycle], load: Floats, place: Floats) -> Way:
    """Where the end of the limb mostly is as the load goes from one end of the cycles to the other, px.

    Each cycle has one say, however long it lasts: one that stays somewhere else does not move the way.
    """
    low, high = (float(np.median([getattr(c, end) for c in group])) for end in ("low", "high"))
    place = settled(place)
    where = np.full((len(group), LEVELS, 2), np.nan)
    for i, c in enumerate(group):
        part = slice(c.down, c.next_down + 1)
        level = np.clip(np.rint((load[part] - low) / (high - low) * (LEVELS - 1)), 0, LEVELS - 1)
        for one in np.unique(level).astype(int):
            where[i, one] = np.median(place[part][level == one], axis=0)
    known = np.flatnonzero(~np.isnan(where).all(axis=(0, 2)))
    return Way(low + known / (LEVELS - 1) * (high - low), np.nanmedian(where[:, known], axis=0))


def half_way(group: list[Cycle]) -> float:
    """The drive half way up the group's range."""
    return float(np.median([(c.low + c.high) / 2 for c in group]))


def width_of(cycle: Cycle, load: Floats, level: float) -> int:
    """Samples for which a cycle is above a level of the drive."""
    return int(np.count_nonzero(load[cycle.down : cycle.next_down + 1] > level))


def is_still(cycle: Cycle, stays: Floats) -> bool:
    """Whether a cycle is made in one place; stays (T,): 1 where the person keeps it, 0 or NaN (not known).

    A load-down end may lie far back in an empty seat: what is not known of a cycle says nothing.
    """
    part = stays[cycle.down : cycle.next_down + 1]
    known = part[~np.isnan(part)]
    return bool(len(known) and known.mean() >= STILL_SHARE)
