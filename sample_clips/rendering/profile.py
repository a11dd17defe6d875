"""The drive over time: phases of each repetition, exact at any instant, and their bounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

SOFTNESS, HARD = (1.6, 2.1), 1.05
EDGE_SHARE = 0.05
SAMPLE_HZ = 2000.0


@dataclass(frozen=True)
class Phase:
    """One monotone stretch of the drive from start_s to end_s, first_deg to last_deg.

    softness (2,): exponents of a regularised incomplete beta function at the
    load-down and the lift end: 1 stops dead, larger is softer.
    """

    start_s: float
    end_s: float
    first_deg: float
    last_deg: float
    lift: bool
    hard: bool = False
    sticking: float = 0.0
    hard_bottom: bool = False
    softness: tuple = SOFTNESS

    def at(self, time_s):
        """Drive (same shape as time_s) in degrees; constant outside the phase."""
        x = np.clip((np.asarray(time_s, float) - self.start_s) / (self.end_s - self.start_s), 0.0, 1.0)
        x = x + self.sticking * np.sin(2 * np.pi * x) / (2 * np.pi)
        top = HARD if self.hard else self.softness[1]
        bottom = HARD if self.hard_bottom else self.softness[0]
        part = betainc(bottom, top, x) if self.lift else 1 - betainc(bottom, top, 1 - x)
        return self.first_deg + (self.last_deg - self.first_deg) * part

    def bounds(self):
        """Start and end (s) by the 5 %-of-peak-speed rule."""
        count = int(np.ceil((self.end_s - self.start_s) * SAMPLE_HZ)) + 1
        time_s = np.linspace(self.start_s, self.end_s, max(count, 50))
        return phase_bounds(time_s, self.at(time_s))


def phase_bounds(time_s, drive):
    """First and last crossing (s) of 5 % of the peak speed between two extremes.

    time_s, drive (N,): samples from one extreme to the next. Central
    differences; the crossing is interpolated between samples. A phase that is
    above the threshold at its very edge begins or ends there.
    """
    speed = np.abs(np.diff(drive) / np.diff(time_s))
    middle = (time_s[1:] + time_s[:-1]) / 2
    limit = EDGE_SHARE * speed.max()
    above = np.flatnonzero(speed >= limit)
    first, last = above[0], above[-1]
    start = (
        time_s[0]
        if first == 0
        else np.interp(limit, speed[first - 1 : first + 1], middle[first - 1 : first + 1])
    )
    if last == len(speed) - 1:
        return float(start), float(time_s[-1])
    end = np.interp(-limit, -speed[last : last + 2], middle[last : last + 2])
    return float(start), float(end)


@dataclass(frozen=True)
class Rep:
    """One repetition on the time line: its two phases and its settings."""

    number: int
    lift: Phase
    lower: Phase
    spec: object

    def weight(self, time_s):
        """How far (0 to 1) an offset of this repetition is blended in."""
        rise = smooth((time_s - self.lift.start_s) / (0.6 * (self.lift.end_s - self.lift.start_s)))
        length = 0.6 * (self.lower.end_s - self.lower.start_s)
        return rise * (1 - smooth((time_s - self.lower.end_s + length) / length))


def smooth(x):
    """Smooth step from 0 to 1 over 0..1."""
    x = np.clip(x, 0.0, 1.0)
    return x * x * x * (x * (6 * x - 15) + 10)


@dataclass(frozen=True)
class Timeline:
    """The whole clip's drive: repetitions, the angle before the first and the duration."""

    reps: tuple
    rest_deg: float
    first_s: float
    duration_s: float

    def drive(self, time_s):
        """Drive in degrees at time_s (s)."""
        value = self.rest_deg
        for rep in self.reps:
            if time_s < rep.lift.start_s:
                break
            phase = rep.lift if time_s < rep.lower.start_s else rep.lower
            value = float(phase.at(time_s))
        return value

    def last_s(self):
        """End of the last lowering, or the start of the set when there is none."""
        return self.reps[-1].lower.end_s if self.reps else self.first_s


def build_timeline(specs, first_s, rest_deg, after_s, end_at_rest=True, softness=SOFTNESS):
    """Time line of repetition settings (`scenario.RepSpec`) that begins at first_s (s)."""
    reps, now, angle, rushed = [], first_s, rest_deg, False
    for number, spec in enumerate(specs, 1):
        lift_s, lower_s = now + spec.lift_s, spec.lower_s
        lift = Phase(
            now, lift_s, angle, spec.lift_end_deg, True, spec.hard_stop, spec.sticking, rushed, softness
        )
        down = (
            rest_deg
            if (end_at_rest and number == len(specs)) or spec.rest_on_stack
            else spec.load_down_end_deg
        )
        lower_at = lift.end_s + spec.hold_s
        rushed = spec.rushed_turn
        lower = Phase(
            lower_at,
            lower_at + lower_s,
            spec.lift_end_deg,
            down,
            False,
            spec.hard_stop,
            0.0,
            rushed,
            softness,
        )
        reps.append(Rep(number, lift, lower, spec))
        now, angle = lower.end_s + (0.0 if rushed else spec.rest_s), down
    return Timeline(tuple(reps), rest_deg, first_s, (reps[-1].lower.end_s if reps else first_s) + after_s)
