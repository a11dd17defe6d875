"""Where points are between the moments at which they were seen: straight on from one to the next."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shared.domain import Floats, Landmarks

#: So many points are worked on together: all 33 took 0.2 GB more at the peak of an hour's clip.
AT_ONCE = 6


def between(values: Floats, from_s: Floats, to_s: Floats, longest_s: float) -> Floats:
    """Values (N, K, D) at the moments from_s (N,), linearly at the moments to_s (T,): (T, K, D).

    NaN where a point was not known for longer than ``longest_s`` (s), and before and after it was.
    """
    out = np.full((len(to_s), *values.shape[1:]), np.nan)
    for known, points in known_together(values):
        rows = np.flatnonzero(known)
        if len(rows) < 2:
            continue
        known_s = from_s[rows]
        after = np.clip(np.searchsorted(known_s, to_s), 1, len(rows) - 1)
        gap = known_s[after] - known_s[after - 1]
        usable = (gap <= longest_s + 1e-6) & (to_s >= known_s[0] - 1e-6) & (to_s <= known_s[-1] + 1e-6)
        share = np.clip((to_s - known_s[after - 1]) / gap, 0.0, 1.0)[usable, None, None]
        first, second = values[rows[after[usable] - 1]][:, points], values[rows[after[usable]]][:, points]
        out[np.ix_(usable, points)] = first + share * (second - first)
    return out


def at_moments(look: Landmarks, frame: NDArray[np.int64], time_s: Floats, longest_s: float) -> Landmarks:
    """What a look at one person tells at the moments frame (T,), time_s (T,) s. See ``between``."""

    def on(values: Floats) -> Floats:
        return between(values[:, 0], look.time_s, time_s, longest_s)[:, None]

    return Landmarks(
        frame, time_s, on(look.image_px), on(look.world_m),
        on(look.visibility[..., None])[..., 0], on(look.presence[..., None])[..., 0], look.model,
    )  # fmt: skip


def known_together(values: Floats) -> list[tuple[np.ndarray, np.ndarray]]:
    """Which samples (N,) are known, and of which points: those known at the same moments, a few together.

    values (N, K, D).
    """
    known = np.asarray(~np.isnan(values).any(axis=-1))
    together: dict[bytes, list[int]] = {}
    for k in range(known.shape[1]):
        together.setdefault(known[:, k].tobytes(), []).append(k)
    return [
        (known[:, points[0]], np.array(points[i : i + AT_ONCE]))
        for points in together.values()
        for i in range(0, len(points), AT_ONCE)
    ]
