"""Analysis -> what a page draws over the playing clip: limbs and measured angles, moment by moment."""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from shared.domain import Floats, Signal
from shared.keypoints import BONES
from vision.telling.analysis import Analysis
from vision.telling.overlay import near_side
from vision.telling.pictures import marks_of

#: So often a second a moment is kept; between two a page draws in between.
KEPT_HZ = 15.0


def moving_drawing(analysis: Analysis) -> str | None:
    """Compact JSON over the clip's time; None where nobody was followed.

    rate_hz, start_s: the moments; size: (width, height) in px that points are given in; bones: pairs of
    names; points: {name: [x, y, x, y, ...]}, null where not known; signals: {name: {points, values}} of
    angles and of leaning lines in degrees, the values as judged; drive: the one that counts repetitions;
    marks: points of the machine as ``points``.
    """
    track = analysis.track
    if track is None:
        return None
    step = max(1, round(track.rate_hz / KEPT_HZ))
    kept = {
        name: track.picture_xy(name)[::step] for name in sorted({name for bone in BONES for name in bone})
    }
    drawn: dict[str, Any] = {
        "rate_hz": track.rate_hz / step, "start_s": round(float(track.time_s[0]), 4),
        "size": list(track.picture), "near": near_side(track), "bones": [list(bone) for bone in BONES],
        "points": {name: _whole(xy) for name, xy in kept.items() if not bool(np.isnan(xy).all())},
        "signals": {
            name: {"points": list(signal.points), "values": _rounded(_at(signal, track.time_s[::step]))}
            for name, signal in analysis.signals.items()
            if signal.unit == "deg" and (len(signal.points) == 3 or _leans(signal))
        },
        "drive": analysis.exercise.drive.signal,
        "marks": {name: _whole(path.at(track.time_s[::step])) for name, path in marks_of(analysis).items()},
    }  # fmt: skip
    return json.dumps(drawn, separators=(",", ":"))


def _leans(signal: Signal) -> bool:
    """Whether it is the lean of one line of the body; from one hand to the other there is none."""
    sides = {name.partition("_")[0] for name in signal.points}
    return len(signal.points) == 2 and len(sides) == 1


def _at(signal: Signal, time_s: Floats) -> Floats:
    """The values at those moments, each the nearest one that was measured."""
    at = np.searchsorted(signal.time_s, time_s - 1e-6)
    return signal.values[np.clip(at, 0, len(signal.values) - 1)]


def _whole(xy: Floats) -> list[int | None]:
    return [None if np.isnan(value) else round(float(value)) for value in xy.ravel()]


def _rounded(values: Floats) -> list[float | None]:
    return [None if np.isnan(value) else round(float(value), 1) for value in values]
