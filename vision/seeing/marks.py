"""Points that a person marked on the machine, and their paths through the clip.

``pivot``: the machine's axis; ``knee``: where the knee turns, beside a pivot; ``stack``: a plate or
the pin; ``handle``: what the hands or shins move; ``pad`` and ``pad_end``: both ends of the back pad;
``seat``: the lower corner of the seat's front edge.
``vision/seeing/mark_tracker.py`` follows them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from shared.domain import Floats, require
from vision.common.pinhole import Tilt

MarkName = Literal["pivot", "knee", "stack", "handle", "pad", "pad_end", "seat"]
MARK_NAMES: tuple[MarkName, ...] = get_args(MarkName)
#: Marks on moving parts, which are followed by their own look.
MOVING = ("stack", "handle")
#: A gap up to this long is bridged where a path is read at other moments.
BRIDGE_S = 0.15
#: A shorter gap is not worth a word.
LOST_S = 0.3
#: A load that lies still for this long, in s, rests.
REST_S = 0.5


@dataclass(frozen=True)
class MarkPoint:
    """A named pixel of the upright picture at a moment (s)."""

    name: MarkName
    x: float
    y: float
    time_s: float = 0.0


@dataclass(frozen=True)
class MarkPath:
    """One mark through the clip.

    time_s (F,); xy_px (F, 2) in the picture of that moment, steady_px (F, 2) with the camera's own
    motion taken out, in the picture in which the mark was given: NaN where the mark is lost;
    confidence (F,) in 0..1: how well the picture there agrees with the marked one, 0 where lost;
    tilt: how the camera was tilted in the still, None where that could not be told.
    """

    point: MarkPoint
    time_s: Floats
    xy_px: Floats
    steady_px: Floats
    confidence: Floats
    tilt: Tilt | None = None

    def __post_init__(self) -> None:
        n = len(self.time_s)
        require(bool(np.all(np.diff(self.time_s) > 0)), "time_s must increase strictly")
        for name, shape in (("xy_px", (n, 2)), ("steady_px", (n, 2)), ("confidence", (n,))):
            require(getattr(self, name).shape == shape, f"{name} must be {shape}")

    @property
    def seen(self) -> np.ndarray:
        """Whether the mark is known at each moment, (F,)."""
        return ~np.isnan(self.xy_px[:, 0])

    def lost_spans(self) -> list[tuple[float, float]]:
        """Spans (s) of at least ``LOST_S`` in which the mark is not known."""
        if not len(self.time_s):
            return []
        edges = np.flatnonzero(np.diff(np.r_[False, ~self.seen, False].astype(int)))
        spans = []
        for first, after in zip(edges[::2], edges[1::2], strict=True):
            start = float(self.time_s[max(first - 1, 0)])
            end = float(self.time_s[min(after, len(self.time_s) - 1)])
            if end - start >= LOST_S:
                spans.append((start, end))
        return spans

    def at(self, time_s: Floats, steady: bool = False) -> Floats:
        """Pixels at other moments, (T, 2): linear in between, NaN further than a bridge from a known one."""
        known = self.seen
        if np.count_nonzero(known) < 2:
            return np.full((len(time_s), 2), np.nan)
        times = self.time_s[known]
        values = (self.steady_px if steady else self.xy_px)[known]
        after = np.clip(np.searchsorted(times, time_s), 1, len(times) - 1)
        gap = times[after] - times[after - 1]
        off = np.maximum(times[0] - time_s, time_s - times[-1])
        bad = (gap > BRIDGE_S) & (np.abs(time_s - times[after]) > 1e-6) | (off > BRIDGE_S)
        bad &= np.abs(time_s - times[after - 1]) > 1e-6
        out = np.stack([np.interp(time_s, times, values[:, k]) for k in (0, 1)], axis=1)
        out[bad] = np.nan
        return out


Marks = Mapping[str, MarkPath]
