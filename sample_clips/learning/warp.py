"""A measured set, as it would have been measured had the person moved by another law of motion.

What a moment's pose measures stays; only when the pose is reached changes. So a learner sees many laws
of motion although the renderer has one.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.special import betainc

from sample_clips.rendering.profile import phase_bounds
from vision.measuring.phases import Bounds, boundaries

#: Exponents of the incomplete beta function at either end: 1 stops dead, 3 is about the smoothest.
EXPONENTS = (1.15, 3.2)
#: This share of the phases sticks on the way, by up to so much.
STICKING_SHARE, STICKING = 0.25, 0.5
#: A drive that moves less than this share of its range in a hundredth of a second stands still.
STANDS = 1e-3
_GRID = np.linspace(0.0, 1.0, 400)

Law = Callable[[np.ndarray], np.ndarray]


def any_law(rng: np.random.Generator) -> Law:
    """Share of the way (N,) at shares of a phase's time (N,), both 0 to 1."""
    first, last = rng.uniform(*EXPONENTS, size=2)
    sticking = rng.uniform(0, STICKING) if rng.random() < STICKING_SHARE else 0.0

    def law(share: np.ndarray) -> np.ndarray:
        slowed = share + sticking * np.sin(2 * np.pi * share) / (2 * np.pi)
        return np.asarray(betainc(first, last, np.clip(slowed, 0.0, 1.0)))

    return law


def warped(
    load: np.ndarray,
    time_s: np.ndarray,
    true: Bounds,
    clock_s: np.ndarray,
    drive: np.ndarray,
    laws: tuple[Law, Law],
) -> tuple[np.ndarray, Bounds]:
    """Measured load (T,) with both phases of one repetition moved by ``laws``, and its new true bounds.

    true: its bounds as rendered; clock_s, drive (F,): the true drive.
    """
    at_top = float(np.interp((true[1] + true[2]) / 2, clock_s, drive))
    size = abs(at_top - float(np.interp(true[0], clock_s, drive)))
    start, turn = _edge(true[0], -1, clock_s, drive, size), _edge(true[1], 1, clock_s, drive, size)
    lower, end = _edge(true[2], -1, clock_s, drive, size), _edge(true[3], 1, clock_s, drive, size)
    middle = (true[1] + true[2]) / 2
    load, lift = _moved(load, time_s, (start, min(turn, middle)), clock_s, drive, laws[0])
    load, down = _moved(load, time_s, (max(lower, middle), end), clock_s, drive, laws[1])
    return load, (*lift, *down)


def _edge(moment_s: float, step: int, clock_s: np.ndarray, drive: np.ndarray, size: float) -> float:
    """Where a phase really begins or ends, outward from where it passes 5 % of its peak speed."""
    for _ in range(60):
        here, there = np.interp([moment_s, moment_s + step / 100], clock_s, drive)
        if abs(there - here) < STANDS * size:
            break
        moment_s += step / 100
    return moment_s


def _moved(
    load: np.ndarray,
    time_s: np.ndarray,
    phase: tuple[float, float],
    clock_s: np.ndarray,
    drive: np.ndarray,
    law: Law,
) -> tuple[np.ndarray, tuple[float, float]]:
    start, end = phase
    inside = (clock_s > start) & (clock_s < end)
    times = np.concatenate([[start], clock_s[inside], [end]])
    first, last = np.interp([start, end], clock_s, drive)
    way = (np.interp(times, clock_s, drive) - first) / (last - first)
    way = np.maximum.accumulate(np.clip(way, 0.0, 1.0)) + 1e-9 * np.arange(len(way))
    wanted = law(_GRID)
    then = np.interp(wanted, way, times)
    within = (time_s >= start) & (time_s <= end)
    out = load.copy()
    out[within] = np.interp(np.interp((time_s[within] - start) / (end - start), _GRID, then), time_s, load)
    return out, phase_bounds(start + _GRID * (end - start), wanted)  # type: ignore[no-untyped-call]


def bounds_again(load: np.ndarray, time_s: np.ndarray, near: Bounds, rests: tuple[float, float]) -> Bounds:
    """The bounds that the finder gives one repetition of a load that was changed; near: as they were."""
    start, _, _, end = (int(np.clip(np.searchsorted(time_s, t), 0, len(load) - 1)) for t in near)
    rate = 1.0 / float(time_s[1] - time_s[0])
    before, after = (int((min(rest, 1.3) + 0.2) * rate) for rest in rests)
    top = start + int(np.argmax(load[start : end + 1]))
    first = max(0, start - before)
    down = first + int(np.argmin(load[first : top + 1]))
    next_down = top + int(np.argmin(load[top : end + after + 1]))
    return boundaries(load, time_s, down, top, next_down)
