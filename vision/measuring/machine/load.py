"""A mark or a tag on the stack -> the load's own height, its rests on the stack, and its own repetitions.

The load travels along a straight line, so its height is the way along that line from its lowest place. A
tag's own size gives centimetres. Those of a mark come from the person's scale: the stack stands nearer or
farther, so they are good to about a fifth, and without a body height a trunk of 48 cm is assumed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, Rep, RepSet, Signal, Track, Unit
from vision.measuring.machine.load_moments import by_height
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.phase_correction import uncorrected
from vision.seeing.marks import BRIDGE_S, REST_S, MarkPath
from vision.seeing.tags import TagPath

#: The load rests where it lies within this of its lowest place.
REST_CM = 1.0
#: Trunk (hip to shoulder) where no body height is known: 0.288 of a stature of 167 cm, by Drillis and
#: Contini in Winter 2009 (from memory).
TRUNK_CM = 48.0
#: Share of the height by which the scale at the stack may be off.
SCALE_SHARE = 0.2
#: The same by a tag's own size.
TAG_SCALE_SHARE = 0.03
#: The lowest place is taken from this part of the known heights, so that one bad frame decides nothing.
LOWEST_PERCENT = 1.0
#: Less travel than this is no repetition of the load.
MIN_TRAVEL_CM = 8.0
#: The mark must be known for this share of the set for the load to be counted.
COUNT_SHARE = 0.85
#: Half-width (s) of a rest's length: about two frames at each end.
REST_HALF_S = 0.1
#: Speed at the landing is taken over the last stretch above the resting place.
LANDING_CM = 3.0


@dataclass(frozen=True)
class Rest:
    """A span (s) in which the load lies on its lowest place."""

    start_s: float
    end_s: float

    @property
    def seconds(self) -> float:
        """Length in s."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class Load:
    """The load over time: time_s (F,) of the frames followed, height_cm (F,) over its lowest place.

    rests: every rest of at least ``REST_S``; reps: the load's own repetitions, None when they could
    not be counted; sure: whether the load was seen lying still before or after the set, so that its
    lowest place is the stack.
    """

    time_s: Floats
    height_cm: Floats
    rests: tuple[Rest, ...]
    reps: RepSet | None
    sure: bool

    def missing_share(self, start_s: float, end_s: float) -> float:
        """Share of the frames between two moments in which the load's height is not known."""
        inside = (self.time_s >= start_s) & (self.time_s <= end_s)
        return float(np.isnan(self.height_cm[inside]).mean()) if inside.any() else 1.0

    def rest_after(self, rep: Rep, until_s: float) -> float:
        """Seconds of the longest stay within ``REST_CM`` from a repetition's lower to a moment."""
        spans = low_spans(self.time_s, self.height_cm, start_s=rep.lower_start_s, end_s=until_s)
        return max((s.seconds for s in spans), default=0.0)

    def landing_speed(self, rep: Rep) -> float | None:
        """cm/s over the last ``LANDING_CM`` above the stack; None where the load did not reach it."""
        inside = (self.time_s >= rep.lower_start_s) & (self.time_s <= rep.end_s + REST_S)
        times, heights = self.time_s[inside], self.height_cm[inside]
        down = np.flatnonzero(heights < REST_CM)
        if not len(down) or down[0] == 0:
            return None
        before = np.flatnonzero(heights[: down[0]] >= REST_CM + LANDING_CM)
        if not len(before):
            return None
        seconds = float(times[down[0]] - times[before[-1]])
        return float(heights[before[-1]] - heights[down[0]]) / max(seconds, 1e-6)


def cm_per_px(track: Track) -> float:
    """The person's scale, else that of an assumed trunk."""
    return track.cm_per_px if track.cm_per_px is not None else TRUNK_CM / track.trunk_px


def find_load(path: MarkPath, track: Track, reps: RepSet | None) -> Load:
    """The load from a followed stack mark or tag; reps: the set as the drive tells it."""
    scale = path.cm_per_px if isinstance(path, TagPath) else cm_per_px(track)
    height = _height_px(path.steady_px) * scale
    rests = tuple(r for r in low_spans(path.time_s, height) if r.seconds >= REST_S)
    start_s, end_s = (reps.start_s, reps.end_s) if reps else (np.inf, -np.inf)
    sure = any(_outside(r, start_s, end_s) >= REST_S for r in rests)
    load = Load(path.time_s, height, rests=rests, reps=None, sure=sure)
    signal = height_signal(load, path, track)
    own = None
    if reps is None or load.missing_share(start_s, end_s) <= 1 - COUNT_SHARE:
        correct = by_height(load.time_s, height) if isinstance(path, TagPath) else uncorrected
        own = find_reps(signal, "rising", MIN_TRAVEL_CM * _per_cm(signal.unit), correct=correct)
    return Load(path.time_s, height, rests=rests, reps=own, sure=sure)


def _outside(rest: Rest, start_s: float, end_s: float) -> float:
    """Seconds of a rest before the first repetition or after the last."""
    return max(min(rest.end_s, start_s) - rest.start_s, rest.end_s - max(rest.start_s, end_s))


def _per_cm(unit: Unit) -> float:
    return 1.0 if unit == "cm" else 1.0 / TRUNK_CM


def _height_px(steady: Floats) -> Floats:
    """Way along the line of travel from its lowest place (F,), up is positive."""
    known = ~np.isnan(steady[:, 0])
    if np.count_nonzero(known) < 3:
        return np.full(len(steady), np.nan)
    middle = np.median(steady[known], axis=0)
    _, _, axes = np.linalg.svd(steady[known] - middle, full_matrices=False)
    up = axes[0] * (-1.0 if axes[0][1] > 0 else 1.0)
    along = (steady - middle) @ up
    return np.asarray(along - np.percentile(along[known], LOWEST_PERCENT))


def low_spans(
    time_s: Floats, height_cm: Floats, start_s: float = -np.inf, end_s: float = np.inf
) -> list[Rest]:
    """Spans of heights under ``REST_CM`` between two moments, in time order; short gaps are bridged."""
    at = np.flatnonzero(~np.isnan(height_cm) & (time_s >= start_s) & (time_s <= end_s))
    times, low = time_s[at], height_cm[at] < REST_CM
    apart = (np.diff(at) > 1) & (np.diff(times) > BRIDGE_S)
    begins = low & np.r_[True, apart | ~low[:-1]]
    ends = low & np.r_[apart | ~low[1:], True]
    return [Rest(first, last) for first, last in zip(times[begins], times[ends], strict=True)]


def height_signal(load: Load, path: MarkPath, track: Track) -> Signal:
    """The load's height on the track's clock, in cm with a tag or a body height, else in trunk lengths."""
    known = ~np.isnan(load.height_cm)
    values = np.full(len(track.time_s), np.nan)
    if np.count_nonzero(known) >= 2:
        values = np.interp(track.time_s, load.time_s[known], load.height_cm[known])
        values[np.isnan(path.at(track.time_s)[:, 0])] = np.nan
    tag = isinstance(path, TagPath)
    unit: Unit = "cm" if tag or track.cm_per_px is not None else "trunk_fraction"
    values = values * _per_cm(unit)
    half = (TAG_SCALE_SHARE if tag else SCALE_SHARE) * np.abs(values)
    return Signal("load_height", unit, time_s=track.time_s, values=values, moment_half=half, clip_half=0.0)
