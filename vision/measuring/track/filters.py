"""Zero-lag low-pass filtering and the choice of its cut-off.

A second-order Butterworth run forwards and backwards has no lag but a lower effective cut-off: to
reach ``cutoff_hz`` overall each pass is designed at ``cutoff_hz / 0.802`` (Winter, Biomechanics and
Motor Control of Human Movement; Robertson and Dowling 2003; the constant is (sqrt(2) - 1) ** 0.25),
on the axis that the bilinear transform warps, so that it is exact at any rate.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy.signal import butter, sosfilt, sosfilt_zi

from shared.domain import Floats

DUAL_PASS = (2.0**0.5 - 1.0) ** 0.25
#: Bounds of a sane cut-off for lifting in Hz: 4 to 6 is usual (from memory of the handbooks).
CUTOFF_BOUNDS_HZ = (3.0, 6.0)
_SHORTEST = 12


def butterworth(values: Floats, rate_hz: float, cutoff_hz: float) -> Floats:
    """Low-pass along the first axis; values must be known throughout (no NaN).

    values (T, ...); parts shorter than 12 samples are returned as they are. ValueError when the
    cut-off does not lie between 0 and 0.45 of the rate.
    """
    if not 0 < cutoff_hz < 0.45 * rate_hz:
        raise ValueError(f"cut-off {cutoff_hz} Hz is too high for {rate_hz} Hz")
    if len(values) < _SHORTEST:
        return values.copy()
    pad = min(len(values) - 1, int(3 * rate_hz / cutoff_hz))
    before, after = 2 * values[0] - values[pad:0:-1], 2 * values[-1] - values[-2 : -pad - 2 : -1]
    wide = np.concatenate([before, values, after])
    forwards = _pass(wide, rate_hz, cutoff_hz)
    return np.ascontiguousarray(_pass(forwards[::-1], rate_hz, cutoff_hz)[::-1][pad : pad + len(values)])


def _pass(values: Floats, rate_hz: float, cutoff_hz: float) -> Floats:
    """Low-passed once, from a state at rest at the first value; values (T, ...)."""
    sections, at_rest = _one_pass(rate_hz, cutoff_hz)
    state = at_rest.reshape(1, 2, *([1] * (values.ndim - 1))) * values[0]
    return np.asarray(sosfilt(sections, values, axis=0, zi=state)[0])


@lru_cache(maxsize=256)
def _one_pass(rate_hz: float, cutoff_hz: float) -> tuple[Floats, Floats]:
    """Second-order sections (1, 6) and their state at rest (1, 2); designing costs more than filtering."""
    warped = np.tan(np.pi * cutoff_hz / rate_hz) / DUAL_PASS
    sections = np.asarray(butter(2, rate_hz / np.pi * np.arctan(warped), fs=rate_hz, output="sos"))
    return sections, np.asarray(sosfilt_zi(sections))


def filter_known(values: Floats, rate_hz: float, cutoff_hz: float) -> Floats:
    """``butterworth`` over each run of known samples; NaN stays NaN. values (T,) or (T, D)."""
    out = np.full_like(values, np.nan)
    known = ~np.isnan(values if values.ndim == 1 else values.sum(axis=1))
    for start, stop in runs(known):
        out[start:stop] = butterworth(values[start:stop], rate_hz, cutoff_hz)
    return out


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """Start and stop of each run of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(int), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def within(time_s: Floats, start_s: float, end_s: float) -> slice:
    """The samples from start_s to end_s, both included, of a clock that rises."""
    first, stop = np.searchsorted(time_s, start_s), np.searchsorted(time_s, end_s, side="right")
    return slice(int(first), int(stop))


def residual_cutoff(values: Floats, rate_hz: float, bounds: tuple[float, float] = CUTOFF_BOUNDS_HZ) -> float:
    """Cut-off by residual analysis (Winter): where the residual equals the noise extrapolated to 0 Hz.

    values (T,) without NaN. The straight line is fitted to the residual's upper third, in which
    only noise is left. The answer is kept within ``bounds``.
    """
    top = 0.45 * rate_hz
    candidates = np.arange(1.0, top, 0.25)
    residual = np.array(
        [float(np.sqrt(np.mean((values - butterworth(values, rate_hz, fc)) ** 2))) for fc in candidates]
    )
    upper = candidates > candidates[-1] * 2 / 3
    slope, intercept = np.polyfit(candidates[upper], residual[upper], 1)
    below = np.flatnonzero(residual <= intercept)
    found = float(candidates[below[0]]) if len(below) and slope < 0 else bounds[1]
    return float(np.clip(found, *bounds))


def known_percentile(values: Floats, q: float) -> float:
    """The percentile q (0 to 100) of the values that are known; NaN where none is."""
    known = values[~np.isnan(values)]
    return float(np.percentile(known, q)) if len(known) else float("nan")
