"""One phase of a repetition: from the first to the last crossing of 5 % of its own peak speed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shared.domain import Floats
from vision.measuring.track.filters import butterworth

SPEED_SHARE = 0.05
#: A slow spell with less than this share of the range left to travel ends the phase.
END_BAND = 0.12
#: Phase cut-off: this many cycles a phase, within bounds in Hz.
_CUTOFF_PER_PHASE = 5.0
_CUTOFF_HZ = (0.6, 6.0)

#: start, turn, lower start and end of a repetition, s.
Bounds = tuple[float, float, float, float]


def boundaries(
    load: Floats, time_s: Floats, down: int, top: int, next_down: int, floor: float = -np.inf
) -> Bounds:
    """start, turn, lower start and end (s) of one cycle between the samples of its three extremes.

    floor: where the set's loads lie down; nothing is left to travel below it.
    """
    start, turn = phase_bounds(load, time_s, low=down, high=top, floor=floor)
    back = load[::-1]
    n = len(load) - 1
    end, lower = phase_bounds(back, time_s, low=n - next_down, high=n - top, floor=floor)
    mirror = float(time_s[0] + time_s[-1])
    return start, turn, max(turn, mirror - lower), mirror - end


def in_order(bounds: Sequence[Bounds] | Sequence[Floats]) -> list[Bounds]:
    """Bounds of which none comes before the one ahead of it, within a repetition and from one to the next."""
    flat = np.maximum.accumulate(np.concatenate(bounds)) if len(bounds) else np.empty(0)
    return [(float(a), float(b), float(c), float(d)) for a, b, c, d in flat.reshape(-1, 4)]


def phase_bounds(
    rising: Floats, time_s: Floats, low: int, high: int, floor: float = -np.inf
) -> tuple[float, float]:
    """First and last moment (s) of one rise between the extremes at samples low and high.

    The drive is low-passed once more in keeping with the phase's length, so that the noise of a
    slow phase does not pass for speed.
    """
    rate = 1.0 / float(time_s[1] - time_s[0])
    pad = int(2 * rate)
    lo, hi = max(0, low - pad), min(len(rising), high + pad + 1)
    span = _travel_s(rising[low : high + 1], rate)
    smooth = butterworth(rising[lo:hi], rate, float(np.clip(_CUTOFF_PER_PHASE / span, *_CUTOFF_HZ)))
    speed = np.gradient(smooth, 1.0 / rate)
    part = slice(low - lo, high - lo + 1)
    threshold = SPEED_SHARE * float(speed[part].max())
    travel = np.maximum(smooth[part] - max(float(smooth[part].min()), floor), 0.0)
    travel = travel / max(float(travel.max()), 1e-9)
    fast = speed[part] >= threshold
    # The last time that the load passes half way: it may have come up once before, and gone down again.
    under = np.flatnonzero(travel < 0.5)
    middle = min(int(under[-1]) + 1, len(travel) - 1) if len(under) else 0
    first = _outward(fast, travel, middle=middle, step=-1)
    last = _outward(fast, 1.0 - travel, middle=middle, step=1)
    base = low
    return (
        _crossing(speed, time_s, at=base + first, offset=lo, threshold=threshold, forward=True),
        _crossing(speed, time_s, at=base + last, offset=lo, threshold=threshold, forward=False),
    )


def _outward(fast: np.ndarray, left: Floats, middle: int, step: int) -> int:
    """The sample at which a phase ends, going from its middle; ``left`` is the share still to travel.

    A slow spell ends the phase only where little is left; further inside it is a sticking point.
    """
    i = middle
    while 0 < i < len(fast) - 1 and (fast[i] or left[i] > END_BAND):
        i += step
    return i


def _travel_s(values: Floats, rate: float) -> float:
    """Seconds between 10 and 90 % of a rise, over 0.6: about the length of the phase."""
    share = (values - values.min()) / max(float(np.ptp(values)), 1e-9)
    inside = np.count_nonzero((share > 0.1) & (share < 0.9))
    return max(inside / rate / 0.6, 0.1)


def _crossing(speed: Floats, time_s: Floats, at: int, offset: int, threshold: float, forward: bool) -> float:
    """The moment between two samples at which the speed passes the threshold."""
    i = at - offset
    j = i + 1 if forward else i - 1
    if (
        not (0 <= j < len(speed))
        or speed[j] == speed[i]
        or (speed[i] - threshold) * (speed[j] - threshold) > 0
    ):
        return float(time_s[at])
    share = float((threshold - speed[i]) / (speed[j] - speed[i]))
    step = float(time_s[1] - time_s[0]) * (1.0 if forward else -1.0)
    return float(time_s[at]) + share * step
