"""track -> signals: named quantities, each a registered function, and how one is computed.

Angles are degrees; lengths are centimetres when the track has a scale, else fractions of trunk
length. In side views everything is taken from the side nearest the camera, and knee and elbow are
signed: past straight reads above 180.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ConfigDict

from shared.domain import Floats, Signal, Track, Unit
from shared.exercise import CameraView, Exercise
from vision.measuring.learnt.correction import correct
from vision.measuring.learnt.uncertainty import clip_half_width, moment_half_width

#: An angle further than this off its view is not judged: projection alone costs too much.
MAX_OFF_VIEW_DEG = 30.0


class Params(BaseModel):
    """Parameters of a signal; an unknown one is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class NoParams(Params):
    """A signal without parameters."""


class ViaParams(Params):
    """via: the point that carries the arm, wrist or elbow (machines with arm pads)."""

    via: str = "wrist"


@dataclass(frozen=True)
class Raw:
    """What a signal function gives: values (T,), unit, the points to draw, and its own kind of error."""

    values: Floats
    unit: Unit
    points: tuple[str, ...]
    unjudgeable: str | None = None


SignalFn = Callable[[Track, Any], Raw]
SIGNALS: dict[str, tuple[SignalFn, type[Params]]] = {}


def signal(kind: str, params: type[Params] = NoParams) -> Callable[[SignalFn], SignalFn]:
    """Register a signal function under the name definitions use."""

    def register(function: SignalFn) -> SignalFn:
        SIGNALS[kind] = (function, params)
        return function

    return register


def compute_signals(
    track: Track, plan: Mapping[str, tuple[SignalFn, Any]], exercise: Exercise, keep_raw: bool = False
) -> dict[str, Signal]:
    """Every signal of the definition, with its uncertainty, by name.

    The drive is corrected where a correction was learnt, unless ``keep_raw``.
    """
    out = {}
    for name, (function, params) in plan.items():
        raw = function(track, params)
        kind = exercise.signals[name].kind
        values, learnt_deg = raw.values, None
        if name == exercise.drive.signal and raw.unjudgeable is None and not keep_raw:
            values, learnt_deg = correct(track, exercise, view_word(track), raw.values)
        out[name] = Signal(
            name=name,
            unit=raw.unit,
            time_s=track.time_s,
            values=values,
            moment_half=moment_half_width(track, raw.points, raw.unit),
            clip_half=clip_half_width(kind, params, exercise, track, raw.unit, learnt_deg),
            points=raw.points,
            raw=raw.values,
            unjudgeable=raw.unjudgeable,
        )
    return out


def view_word(track: Track) -> CameraView:
    """The nearest of side, front and rear."""
    if track.view.is_side:
        return "side"
    return "front" if abs(track.view.yaw_deg) < 90.0 else "rear"


def off_view(wanted_off: float, view: str) -> str | None:
    """Why an angle this many degrees off its view is not judged; None when it is."""
    if wanted_off > MAX_OFF_VIEW_DEG:
        return f"the phone stands {wanted_off:.0f} degrees off the {view} view; film straight from the {view}"
    return None


def facing(track: Track) -> int:
    """+1 facing the right edge of the picture, -1 the left; +1 where that is not known."""
    return track.facing or 1
