"""Laws of motion: how a phase's share of the way depends on its share of the time.

Each law draws what is its own once a set and gives a function of the phase (a lift or a lowering) and a
generator, for what differs from one repetition to the next. Minimum jerk: Flash and Hogan 1985, Journal of
Neuroscience 5:1688, from memory; the others are shapes of the trade, invented here.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.special import betainc

#: Shares of a phase's time at which a law is given.
SHARES = np.linspace(0.0, 1.0, 1001)
#: Share of the way (1001,) of one phase; True for a lift.
SetLaw = Callable[[np.random.Generator, bool], np.ndarray]


def _way(speed: np.ndarray) -> np.ndarray:
    """Share of the way from the speed at each share of the time."""
    way = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2)])
    return np.asarray(way / way[-1])


def _quintic(share: np.ndarray) -> np.ndarray:
    return np.asarray(share**3 * (10 - 15 * share + 6 * share**2))


def _minimum_jerk(rng: np.random.Generator) -> SetLaw:
    return lambda _, lift: _quintic(SHARES)


def _trapezoid(rng: np.random.Generator) -> SetLaw:
    ramps = rng.uniform(0.04, 0.45, (2, 2))

    def law(_: np.random.Generator, lift: bool) -> np.ndarray:
        up, down = ramps[int(lift)]
        return _way(np.minimum(1, np.minimum(SHARES / up, (1 - SHARES) / down)))

    return law


def _half_sine(rng: np.random.Generator) -> SetLaw:
    return lambda _, lift: (1 - np.cos(np.pi * SHARES)) / 2


def _sticking_point(rng: np.random.Generator) -> SetLaw:
    at, width, depth = rng.uniform(0.3, 0.7), rng.uniform(0.06, 0.15), rng.uniform(0.5, 0.9)
    power = rng.choice([0.5, 1.0, 2.0])

    def law(_: np.random.Generator, lift: bool) -> np.ndarray:
        slowed = 1 - depth * np.exp(-(((SHARES - at) / width) ** 2) / 2) if lift else 1.0
        return _way(np.maximum(np.sin(np.pi * SHARES), 0) ** power * slowed)

    return law


def _long_slow_lowering(rng: np.random.Generator) -> SetLaw:
    fade, onset = rng.uniform(0.15, 0.45), rng.uniform(0.03, 0.12)

    def law(_: np.random.Generator, lift: bool) -> np.ndarray:
        if lift:
            return _quintic(SHARES)
        stop = np.minimum(1, (1 - SHARES) / 0.05)
        return _way(np.minimum(1, SHARES / onset) * np.exp(-SHARES / fade) * stop)

    return law


def _jerky(rng: np.random.Generator) -> SetLaw:
    pushes = int(rng.integers(2, 5))

    def law(each: np.random.Generator, lift: bool) -> np.ndarray:
        speed = 0.02 * np.sin(np.pi * SHARES)
        for i in range(pushes):
            middle = (i + 0.5) / pushes + each.uniform(-0.08, 0.08)
            half = 0.9 * each.uniform(0.8, 1.3) / pushes
            first, last = max(0.0, middle - half), min(1.0, middle + half)
            inside = np.clip((SHARES - first) / (last - first), 0, 1)
            speed = speed + each.uniform(0.6, 1.4) * 30 * inside**2 * (1 - inside) ** 2 / (last - first)
        return _way(speed)

    return law


def _trembling(rng: np.random.Generator) -> SetLaw:
    """Any of three smooth laws; the tremor itself lies over the whole set (``sets.py``)."""
    which = (_minimum_jerk, _half_sine, _trapezoid)[int(rng.integers(3))]
    return which(rng)


def _asymmetric(rng: np.random.Generator) -> SetLaw:
    powers = np.exp(rng.uniform(-0.6, 0.6, 2))
    return lambda _, lift: _quintic(SHARES ** powers[int(lift)])


def _beta(rng: np.random.Generator) -> SetLaw:
    ends = rng.uniform(1.05, 3.2, (2, 2))
    return lambda _, lift: np.asarray(betainc(ends[int(lift), 0], ends[int(lift), 1], SHARES))


def _uneven(rng: np.random.Generator) -> SetLaw:
    knots, (first, last) = int(rng.integers(4, 8)), rng.uniform(0.1, 1.6, 2)
    kernel = np.hanning(151) / np.hanning(151).sum()

    def law(each: np.random.Generator, lift: bool) -> np.ndarray:
        heights = np.exp(each.normal(0, 0.5, knots))
        rough = np.interp(SHARES, np.linspace(0, 1, knots), heights)
        smooth = np.convolve(np.pad(rough, 75, mode="edge"), kernel, "valid")
        return _way(smooth * SHARES**first * (1 - SHARES) ** last)

    return law


def _slackening(rng: np.random.Generator) -> SetLaw:
    fade = rng.uniform(4, 9)

    def law(_: np.random.Generator, lift: bool) -> np.ndarray:
        speed = SHARES * np.exp(-fade * SHARES) * np.minimum(1, (1 - SHARES) / 0.1)
        return _way(speed if lift else speed[::-1])

    return law


LAWS: dict[str, Callable[[np.random.Generator], SetLaw]] = {
    "minimum jerk": _minimum_jerk,
    "trapezoid": _trapezoid,
    "half-sine": _half_sine,
    "sticking point": _sticking_point,
    "long slow lowering": _long_slow_lowering,
    "jerky": _jerky,
    "tremor": _trembling,
    "asymmetric": _asymmetric,
    "beta": _beta,
    "uneven": _uneven,
    "slackening": _slackening,
}
