"""What a check is: a function of the whole set that gives evidence, registered with its traits.

It gives one answer for each repetition it concerns, or one for the set (rep None): a Measurement, or
NotMeasured with the reason. ``vision/judging/checks/`` has them all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict
from scipy.ndimage import median_filter

from shared.domain import Floats, Rep, RepSet, Signal, Signals, Track
from shared.exercise import CheckSpec, Exercise
from vision.judging.evidence import Answer
from vision.judging.proven import AS_LEARNT, Least
from vision.measuring.learnt.data import Learnt, load_learnt
from vision.measuring.learnt.uncertainty import phase_half, short_phase_share, smallness
from vision.measuring.machine.shown import Machine

#: Above this share of unknown samples a repetition's part is not measured.
MAX_MISSING_SHARE = 0.2
#: A posture must hold this long to count, so that one bad frame decides nothing.
HELD_S = 0.17
#: About an end of the drive this many seconds belong to it.
AT_END_S = 0.15


@dataclass(frozen=True)
class Context:
    """What a check may look at.

    likely: by check and repetition (0: the set) how likely its fault is, NaN where that is not known; only
    for a check that is run after the others. least: what intervals must be at least.
    """

    track: Track
    signals: Signals
    reps: RepSet
    exercise: Exercise
    machine: Machine | None = None
    likely: Mapping[str, Mapping[int, float]] = field(default_factory=dict)
    least: Least = AS_LEARNT

    @property
    def drive(self) -> Signal:
        """The signal that counts the repetitions."""
        return self.signals[self.exercise.drive.signal]

    @property
    def in_cm(self) -> bool:
        """Whether lengths are in centimetres, else in trunk lengths."""
        return self.track.cm_per_px is not None

    @cached_property
    def _phase_half(self) -> Callable[[float], float]:
        return phase_half(self.track, self.reps.unsteady)

    @cached_property
    def learnt(self) -> Learnt:
        """How sure the measures are: times and ranges by the camera's place and its picture."""
        learnt = self.least.learnt(load_learnt(self.exercise.name))
        seen = {
            "duration_s": self._phase_half(learnt.duration_s),
            "range_percent": learnt.range_percent * smallness(self.track) * self.reps.unsteady**0.5,
        }
        return learnt.model_copy(update=seen)

    def half_of_phase_s(self, seconds: float) -> float:
        """Half-width of a lift or lower that took so long, s; never less than was proved."""
        own = load_learnt(self.exercise.name).duration_s * short_phase_share(seconds)
        return self._phase_half(max(own, self.least.phase_s))

    def judged(self, spec: CheckSpec) -> tuple[Rep, ...]:
        """The repetitions a check speaks about: full ones, and partial ones where the spec says so."""
        return self.reps.reps if spec.partial else self.reps.full

    def signal_of(self, spec: CheckSpec) -> Signal:
        """The signal that a check looks at; KeyError for a check that names none."""
        return self.signals[spec.signal or ""]


class Params(BaseModel):
    """Parameters of a check; an unknown one is refused."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class NoParams(Params):
    """A check without parameters."""


CheckFn = Callable[[Context, CheckSpec, Any], Iterable[Answer]]
LimitSide = Literal["at_most", "at_least"]


@dataclass(frozen=True, kw_only=True)
class Traits:
    """What a check is, whatever the exercise.

    limit: the sides of a limit that it knows. of_set: one answer for the whole set; counts: told however
    little of a repetition was seen. by_drive: as good as the drive's course within a repetition.
    needs_signal: it looks at a signal that the definition names; in_signal: it measures that signal's own
    value, so its limit belongs into the signal's chart. needs_mark: a mark on the machine without which it
    says nothing. after: it looks at what the other checks found. timed: it is about how long something took,
    which a still shows by the path alone, and which takes as long from wherever it is seen.
    """

    limit: tuple[LimitSide, ...]
    of_set: bool = False
    counts: bool = False
    by_drive: bool = False
    needs_signal: bool = False
    needs_mark: str | None = None
    after: bool = False
    timed: bool = False
    in_signal: bool = False


@dataclass(frozen=True, kw_only=True)
class Registered:
    """A check's function, the model of its parameters and its traits."""

    function: CheckFn
    params: type[Params]
    traits: Traits


CHECKS: dict[str, Registered] = {}


def check(
    measure: str, params: type[Params] = NoParams, *, limit: LimitSide | tuple[LimitSide, ...], **traits: Any
) -> Callable[[CheckFn], CheckFn]:
    """Register a check under the name definitions use; traits: those of ``Traits``."""

    def register(function: CheckFn) -> CheckFn:
        sides = (limit,) if isinstance(limit, str) else limit
        CHECKS[measure] = Registered(function=function, params=params, traits=Traits(limit=sides, **traits))
        return function

    return register


def set_start(signal: Signal, reps: RepSet) -> float | None:
    """Median of a signal over the load-down ends of the first two full repetitions."""
    ends = [signal.between(r.start_s - AT_END_S, r.start_s + AT_END_S).values for r in reps.full[:2]]
    values = np.concatenate(ends) if ends else np.empty(0)
    values = values[~np.isnan(values)]
    return float(np.median(values)) if len(values) else None


def extreme(part: Signal, sign: float) -> tuple[float, float, float] | None:
    """Value, moment (s) and moment_half of the largest (sign +1) or smallest (-1) held value."""
    if part.missing_share > MAX_MISSING_SHARE:
        return None
    held = _held(part)
    i = int(np.argmax(sign * held))
    half = part.moment_half[~np.isnan(part.moment_half)]
    return float(held[i]), float(part.time_s[i]), float(np.median(half)) if len(half) else float("nan")


def _held(part: Signal) -> Floats:
    """Running median over HELD_S, unknown samples bridged; a part may lack moments anywhere."""
    known = ~np.isnan(part.values)
    values = np.interp(part.time_s, part.time_s[known], part.values[known])
    if len(values) < 2:
        return values
    width = 2 * round(HELD_S / float(np.median(np.diff(part.time_s))) / 2) + 1
    return np.asarray(median_filter(values, size=min(width, len(values)), mode="nearest"))
