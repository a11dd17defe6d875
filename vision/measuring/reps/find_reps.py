"""signals -> reps: the set in a clip, and each repetition of its drive signal.

The drive is turned so that it rises as the load rises, and cut at its turning points into cycles
load-down end -> lift end -> load-down end. The set is the largest group of cycles that share both
ends; getting in, fidgeting and getting out do not. A phase begins at the first and ends at the
last crossing of 5 % of its own peak speed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import takewhile
from typing import Literal

import numpy as np

from shared.domain import Floats, Rep, RepSet, Signal
from shared.drive import FULL_SHARE
from vision.measuring.reps.cycles import (
    SAME_ENDS,
    WHOLE_S,
    Cycle,
    cycles_of,
    floor_of,
    half_way,
    is_still,
    largest_group,
    travels_of,
    usual_range_of,
    way_of,
    width_of,
)
from vision.measuring.reps.phase_correction import PhaseCorrection, uncorrected
from vision.measuring.reps.phases import boundaries, in_order
from vision.measuring.signals.turning_points import turning_points, without_false_turns

#: Share of the usual range from which a repetition is listed at all.
LISTED_SHARE = 0.30
#: A turning point must be followed by a reversal of this share of the range.
REVERSAL_SHARE = 0.20
#: A set has at least this many full repetitions unless the definition says otherwise.
MIN_REPS = 3
#: A partial repetition belongs to the set when it is this close, in usual repetitions.
NEIGHBOUR_REPS = 1.5
#: A first or last repetition may go further at its lift end than the others by this share of the range.
FURTHER_SHARE = 0.6
#: At the set's edges a movement is no repetition when it takes less than this share of the usual time
#: and misses the usual ends by more than this share of the range.
QUICK_SHARE = 0.65
TIGHT_ENDS = 0.12
#: Nor is one quick that takes at least this share of the time of the quickest inside the set.
AS_QUICK = 0.7
#: An end's angle is the median over this many seconds before and after its moment.
END_MEDIAN_S = 0.12
#: The stack lies no further than this share of the range below the set's load-down end.
REACH_SHARE = 0.08

Lift = Literal["rising", "falling"]


def find_reps(
    drive: Signal,
    lift: Lift,
    min_range: float = 20.0,
    stays: Floats | None = None,
    usual_range: float | None = None,
    min_reps: int = MIN_REPS,
    correct: PhaseCorrection = uncorrected,
    places: Sequence[Floats] = (),
) -> RepSet | None:
    """The set and its repetitions; None when the clip holds none.

    drive (T,) on a uniform clock; gaps are passed over in a straight line. stays (T,): 1 where the person
    keeps their place, walking past is no set, 0 or NaN (not known). usual_range: a member's reference
    range in the drive's unit, else the set's own. correct: what moves the moments found, see
    ``phase_correction.py`` beside this. places: the end of the limb, as ``without_false_turns`` takes it.
    """
    known = ~np.isnan(drive.values)
    if np.count_nonzero(known) < 30:
        return None
    load = drive.values if lift == "rising" else -drive.values
    load = np.interp(drive.time_s, drive.time_s[known], load[known])
    placed = np.where(known, 1.0 if stays is None else stays, np.nan)
    whole = WHOLE_S / float(drive.time_s[1] - drive.time_s[0])
    first = largest_group(cycles_of(load, turning_points(load, 0.5 * min_range)), min_range, placed, whole)
    if len(first) < min_reps:
        return None
    usual = usual_range or usual_range_of(first)
    turns = turning_points(load, REVERSAL_SHARE * usual)
    ways = [way_of(first, load, place) for place in places]
    cycles = cycles_of(load, without_false_turns(turns, load, places=places, ways=ways))
    group = largest_group([c for c in cycles if c.range >= FULL_SHARE * usual], min_range, placed, whole)
    if len(group) < min_reps:
        return None
    group = _without_reaching(group, load, usual)
    if len(group) < min_reps:
        return None
    group = _with_edges(group, cycles, load=load, usual=usual, stays=placed)
    listed = _listed(cycles, group, usual=usual, time_s=drive.time_s, stays=placed)
    listed, load = _without_reach(listed, load, usual)
    return _rep_set(
        listed, load, drive=drive, usual=usual, member_range=usual_range, lift=lift, correct=correct
    )


def _without_reaching(group: list[Cycle], load: Floats, usual: float) -> list[Cycle]:
    """The group without quick movements at its edges that miss the set's ends: reaching for the
    handles, and letting go, look like a repetition but for that; nor is a last one that never comes back.
    """
    # Above the group's half way: in the upper half of its own range who goes further would seem quick.
    level = half_way(group)
    widths = np.array([width_of(c, load, level) for c in group])
    low = float(np.median([(c.low + c.next_low) / 2 for c in group]))
    high = float(np.median([c.high for c in group]))
    off = np.array([max(abs(c.low - low), abs(c.next_low - low), abs(c.high - high)) for c in group])
    misses = off > TIGHT_ENDS * usual
    strange = (widths < _slow_width(widths, ~misses)) & misses
    strange[-1] |= group[-1].next_low - low > SAME_ENDS * usual
    kept = np.flatnonzero(~strange)
    return group[kept[0] : kept[-1] + 1] if len(kept) else []


def _slow_width(widths: Floats, alike: np.ndarray) -> float:
    """The width (samples) from which a movement at the edges of a set is no quicker than a repetition.

    widths, alike (N,): of the set's movements, and which of them share its ends; where the set is uneven, a
    movement need not be much slower than the quickest of those inside it.
    """
    usual = QUICK_SHARE * float(np.median(widths[widths >= 0.4 * widths.max()]))
    inside = widths[1:-1][alike[1:-1]]
    return min(usual, AS_QUICK * float(inside.min())) if len(inside) else usual


def _with_edges(
    group: list[Cycle], cycles: list[Cycle], load: Floats, usual: float, stays: Floats
) -> list[Cycle]:
    """The group with the cycles right before and after it that fail to be alike at one end alone.

    Past the set's load-down end the limb reached for the handle, or let it go; past its lift end a joint
    was taken further than in the others, as in the fresh repetitions of a set that tires.
    """
    low, high = (float(np.median([getattr(c, end) for c in group])) for end in ("low", "high"))
    level = half_way(group)
    widths = np.array([width_of(c, load, level) for c in group])
    slow_width = _slow_width(widths, np.ones(len(widths), dtype=bool))

    def belongs(c: Cycle, outer: float, inner: float) -> bool:
        reach = SAME_ENDS * usual
        past_low = outer < low and abs(c.high - high) <= reach
        past_high = abs(outer - low) <= reach and 0.0 < c.high - high <= FURTHER_SHARE * usual
        slow = width_of(c, load, level) >= slow_width
        return abs(inner - low) <= reach and (past_low or past_high) and slow and is_still(c, stays)

    first, last = cycles.index(group[0]), cycles.index(group[-1])
    before = list(takewhile(lambda c: belongs(c, c.low, c.next_low), reversed(cycles[:first])))
    after = list(takewhile(lambda c: belongs(c, c.next_low, c.low), cycles[last + 1 :]))
    return before[::-1] + group + after


def _without_reach(listed: list[Cycle], load: Floats, usual: float) -> tuple[list[Cycle], Floats]:
    """Cycles and load without what goes past the set's load-down end before its first and after its last.

    A limb that reaches for the handle, or lets it go, bends further than the load ever goes.
    """
    floor = floor_of(listed) - REACH_SHARE * usual
    load = load.copy()
    for edge in (slice(0, listed[0].top), slice(listed[-1].top, None)):
        load[edge] = np.maximum(load[edge], floor)
    listed[0] = replace(listed[0], low=max(listed[0].low, floor))
    listed[-1] = replace(listed[-1], next_low=max(listed[-1].next_low, floor))
    return listed, load


def _listed(
    cycles: list[Cycle], group: list[Cycle], usual: float, time_s: Floats, stays: Floats
) -> list[Cycle]:
    """The set's cycles from its first to its last full one, with partial ones inside and right after it.

    A short movement before the first full one is getting ready: settling in, or trying the load.
    """
    first, last = cycles.index(group[0]), cycles.index(group[-1])
    low = float(np.median([c.low for c in group]))
    high = float(np.median([c.high for c in group]))
    period = float(np.median([time_s[c.next_down] - time_s[c.down] for c in group]))
    near_low = SAME_ENDS * usual

    def neighbour(c: Cycle, gap_s: float) -> bool:
        still = is_still(c, stays)
        level = max(abs(c.low - low), abs(c.next_low - low), c.high - high) <= near_low
        partial = LISTED_SHARE * usual <= c.range < FULL_SHARE * usual
        slow = time_s[c.next_down] - time_s[c.down] >= QUICK_SHARE * period / 2
        return partial and level and still and slow and gap_s <= NEIGHBOUR_REPS * period

    while last + 1 < len(cycles) and neighbour(
        cycles[last + 1], time_s[cycles[last + 1].down] - time_s[cycles[last].next_down]
    ):
        last += 1
    return [c for c in cycles[first : last + 1] if c.range >= LISTED_SHARE * usual]


def _rep_set(
    listed: list[Cycle],
    load: Floats,
    drive: Signal,
    usual: float,
    member_range: float | None,
    lift: Lift,
    correct: PhaseCorrection,
) -> RepSet:
    floor = floor_of(listed)
    found = in_order(
        [
            boundaries(load, drive.time_s, down=c.down, top=c.top, next_down=c.next_down, floor=floor)
            for c in listed
        ]
    )
    bounds = correct(found, load, drive.time_s)
    travels = travels_of(listed, floor - REACH_SHARE * usual)
    whole = travels[[c.range >= FULL_SHARE * usual for c in listed]]
    shares = travels / (member_range or float(np.median(whole if len(whole) else travels)))
    reps = []
    for i, (cycle, (start, turn, lower, end)) in enumerate(zip(listed, bounds, strict=True)):
        rest = max(0.0, bounds[i + 1][0] - end) if i + 1 < len(bounds) else None
        part = drive.between(start, end).values
        sign = 1.0 if lift == "rising" else -1.0
        part = part[~np.isnan(part)] if not np.isnan(part).all() else sign * np.array([cycle.low, cycle.high])
        reps.append(
            Rep(
                number=i + 1,
                start_s=start,
                turn_s=turn,
                lower_start_s=lower,
                end_s=end,
                rest_s=rest,
                drive_min=float(part.min()),
                drive_max=float(part.max()),
                at_lift_end=_at_end(drive, (turn + lower) / 2, sign * cycle.high),
                at_load_down=_at_end(drive, end, sign * cycle.next_low),
                lift_peak_speed=_peak_speed(load, drive.time_s, start_s=start, end_s=turn),
                lower_peak_speed=_peak_speed(load, drive.time_s, start_s=lower, end_s=end, sign=-1.0),
                partial=bool(shares[i] < FULL_SHARE),
                range_share=float(shares[i]),
            )
        )
    return RepSet(tuple(reps), usual, start_s=reps[0].start_s, end_s=reps[-1].end_s)


def _at_end(drive: Signal, moment_s: float, extreme: float) -> float:
    """The drive at one end: its median about the moment, the extreme where that is not known."""
    near = drive.between(moment_s - END_MEDIAN_S, moment_s + END_MEDIAN_S).values
    return float(np.nanmedian(near)) if not np.isnan(near).all() else extreme


def _peak_speed(load: Floats, time_s: Floats, start_s: float, end_s: float, sign: float = 1.0) -> float:
    first = min(int(np.searchsorted(time_s, start_s)), len(time_s) - 2)
    stop = max(int(np.searchsorted(time_s, end_s, side="right")), first + 1)
    before = min(first, 1)
    around = slice(first - before, stop + 1)
    speed = sign * np.gradient(load[around], time_s[around])
    return float(speed[before : before + stop - first].max())
