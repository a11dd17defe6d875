"""The set's own usual course: what a signal does at each place of the drive in its first repetitions.

A landmark model's error moves with the pose: a hip point wanders while the knee straightens and hardly
a muscle moves the hip. At the same place of the drive it is nearly the same in every repetition, so
what a later repetition does there beyond the first ones is measured far better than its own value.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shared.domain import Floats, Rep, RepSet, Signal, Track, Unit
from vision.measuring.learnt.data import Change
from vision.measuring.learnt.uncertainty import change_half_width, in_unit

#: The usual course is the median over this many full repetitions at the set's start.
FIRST_REPS = 3
#: A repetition belongs to the usual course when this share of it was seen.
MIN_KNOWN_SHARE = 0.5
_PLACES = np.linspace(0.0, 1.0, 25)
#: Looks are so far apart, s.
LOOK_S = 0.2
#: "At one end" is this share of the usual range, taken from that end.
END_SHARE = 0.5
#: Beyond the usual range by more than this share of it nothing is usual: no other repetition was there.
BEYOND_SHARE = 0.15
Where = Literal["anywhere", "lift-end", "load-down-end"]


@dataclass(frozen=True)
class Course:
    """Usual value of a signal, lifting and lowering, at places of the drive (drive units, rising)."""

    places: Floats
    lift: Floats
    lower: Floats


def usual_course(signal: Signal, drive: Signal, reps: RepSet) -> Course | None:
    """The course over the first full repetitions whose joint and limb agree; None where hardly seen."""
    first = [rep for rep in reps.full if not rep.range_unsure][:FIRST_REPS]
    if not first:
        return None
    low = float(np.median([r.drive_min for r in reps.full]))
    high = float(np.median([r.drive_max for r in reps.full]))
    places = low + (high - low) * _PLACES
    lift, lower = (
        np.array([_at_places(signal, drive, window=_halves(r)[half], places=places) for r in first])
        for half in (0, 1)
    )
    known = [row for row in range(len(first)) if not np.isnan(lift[row]).any() | np.isnan(lower[row]).any()]
    if len(known) * 2 <= len(first):
        return None
    return Course(places, np.median(lift[known], axis=0), np.median(lower[known], axis=0))


def departure(
    signal: Signal, drive: Signal, rep: Rep, usual: Course, where: Where = "anywhere", from_s: float = -np.inf
) -> Signal:
    """What a repetition does beyond the usual course, from ``from_s`` on; NaN where either is unknown.

    where: only the places of the drive near that end. Moments elsewhere, or beyond the usual range, are left
    out; those at which the part was hidden stay, so that what was hardly seen is not taken for measured.
    """
    (start, middle), (_, end) = _halves(rep)
    part, places = signal.between(max(start, from_s), end), _bridged(drive.between(max(start, from_s), end))
    lifting = part.time_s <= middle
    course = np.where(
        lifting,
        np.interp(places, usual.places, usual.lift),
        np.interp(places, usual.places, usual.lower),
    )
    inside = _near(where, drive, rep=rep, usual=usual)(places) & _within(usual, places)
    return Signal(
        signal.name,
        signal.unit,
        time_s=part.time_s[inside],
        values=(part.values - course)[inside],
        moment_half=part.moment_half[inside],
        clip_half=0.0,
        points=signal.points,
    )


def _near(where: Where, drive: Signal, rep: Rep, usual: Course) -> Callable[[Floats], np.ndarray]:
    low, high = float(usual.places[0]), float(usual.places[-1])
    rising = rep.at_lift_end > rep.at_load_down
    if where == "anywhere":
        return lambda at: np.ones(len(at), dtype=bool)
    if (where == "lift-end") == rising:
        return lambda at: at >= high - END_SHARE * (high - low)
    return lambda at: at <= low + END_SHARE * (high - low)


def _within(usual: Course, places: Floats) -> np.ndarray:
    """Places of the drive at which the set's full repetitions are, or nearly: beyond, no course is usual."""
    low, high = float(usual.places[0]), float(usual.places[-1])
    beyond = BEYOND_SHARE * (high - low)
    return np.asarray((places >= low - beyond) & (places <= high + beyond))


def _halves(rep: Rep) -> tuple[tuple[float, float], tuple[float, float]]:
    middle = (rep.turn_s + rep.lower_start_s) / 2
    return (rep.start_s, middle), (middle, rep.end_s)


def _at_places(signal: Signal, drive: Signal, window: tuple[float, float], places: Floats) -> Floats:
    part, at = signal.between(*window), _bridged(drive.between(*window))
    known = ~(np.isnan(part.values) | np.isnan(at))
    if np.count_nonzero(known) < max(3, MIN_KNOWN_SHARE * len(known)):
        return np.full(len(places), np.nan)
    order = np.argsort(at[known])
    return np.asarray(np.interp(places, at[known][order], part.values[known][order]))


def _bridged(drive: Signal) -> Floats:
    """The drive with its gaps bridged: only a rough place is asked of it here."""
    known = ~np.isnan(drive.values)
    if not known.any():
        return drive.values
    return np.asarray(np.interp(drive.time_s, drive.time_s[known], drive.values[known]))


def restlessness(departures: Sequence[Signal]) -> float:
    """How far a set's departures mostly lie from the middle of the looks before and after, in their unit.

    What a body does lasts for more than a look; a small, dark or noisy picture tells every look otherwise.
    """
    jumps = [np.empty(0)]
    for part in departures:
        step = max(1, round(LOOK_S / float(np.median(np.diff(part.time_s))))) if len(part.time_s) > 2 else 1
        at = part.values[::step]
        jumps.append(np.abs(at[1:-1] - (at[:-2] + at[2:]) / 2))
    all_jumps = np.concatenate(jumps)
    known = all_jumps[~np.isnan(all_jumps)]
    return float(np.median(known)) if len(known) else 0.0


def course_half_width(learnt: Change | None, track: Track, unit: Unit) -> float:
    """The half-width of a departure from the usual course in the signal's unit, its share allowed for.

    learnt: what was learnt of that kind of signal, if anything.
    """
    if learnt is None:
        return change_half_width(unit, track)
    return learnt.half_width if unit == "deg" else in_unit(learnt.half_width, track, unit)
