"""Motion with closed-form truth: drive signals of sets whose every boundary is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betainc

from shared.domain import Signal

RATE_HZ = 30.0
#: Exponents of the regularised incomplete beta profile of one phase: load-down end, lift end.
LOW, HIGH = 1.6, 2.1
#: Fine clock on which the true boundaries are taken.
FINE_HZ = 2000.0


@dataclass(frozen=True)
class RepTruth:
    """What one synthetic repetition really does; seconds and degrees."""

    lift_s: float = 1.6
    hold_s: float = 0.3
    lower_s: float = 1.8
    rest_s: float = 0.3
    share: float = 1.0


@dataclass(frozen=True)
class SetTruth:
    """A whole clip: settling, repetitions, getting out."""

    reps: tuple[RepTruth, ...]
    low: float = 90.0
    range: float = 65.0
    before_s: float = 2.0
    after_s: float = 2.0

    def drive(self, time_s: np.ndarray) -> np.ndarray:
        """Drive in degrees at each moment."""
        out = np.full(len(time_s), self.low)
        at = self.before_s
        for rep in self.reps:
            top = self.low + self.range * rep.share
            up = np.clip((time_s - at) / rep.lift_s, 0, 1)
            down = np.clip((time_s - at - rep.lift_s - rep.hold_s) / rep.lower_s, 0, 1)
            now = (time_s >= at) & (time_s < at + rep.lift_s + rep.hold_s + rep.lower_s)
            path = betainc(LOW, HIGH, up) - (1 - betainc(LOW, HIGH, 1 - down))
            out[now] = (self.low + (top - self.low) * path)[now]
            at += rep.lift_s + rep.hold_s + rep.lower_s + rep.rest_s
        return out

    @property
    def duration_s(self) -> float:
        return (
            self.before_s + self.after_s + sum(r.lift_s + r.hold_s + r.lower_s + r.rest_s for r in self.reps)
        )

    def bounds(self) -> list[tuple[float, float, float, float]]:
        """start, turn, lower start, end of each repetition by the 5 %-of-peak-speed rule."""
        out, at = [], self.before_s
        for rep in self.reps:
            first, last = phase_share()
            top = at + rep.lift_s
            lower = top + rep.hold_s
            out.append(
                (
                    at + first * rep.lift_s,
                    at + last * rep.lift_s,
                    lower + (1 - last) * rep.lower_s,
                    lower + (1 - first) * rep.lower_s,
                )
            )
            at = lower + rep.lower_s + rep.rest_s
        return out


def phase_share() -> tuple[float, float]:
    """Where in a phase its speed first and last passes 5 % of its peak, as shares of its length."""
    s = np.linspace(0, 1, 20001)[1:-1]
    speed = s ** (LOW - 1) * (1 - s) ** (HIGH - 1)
    fast = np.flatnonzero(speed >= 0.05 * speed.max())
    return float(s[fast[0]]), float(s[fast[-1]])


def drive_signal(truth: SetTruth, noise_deg: float = 0.0, seed: int = 0) -> Signal:
    """The set's drive as a Signal on a 30 Hz clock, with low-passed noise like a track's."""
    time_s = np.arange(0, truth.duration_s, 1 / RATE_HZ)
    values = truth.drive(time_s)
    if noise_deg:
        rng = np.random.default_rng(seed)
        white = rng.normal(size=len(time_s) + 40)
        kernel = np.hanning(9)
        smooth = np.convolve(white, kernel / np.sqrt((kernel**2).sum()), mode="same")[20:-20]
        values = values + noise_deg * smooth
    return signal_of(time_s, values)


def signal_of(time_s: np.ndarray, values: np.ndarray, name: str = "drive") -> Signal:
    """A plain Signal in degrees."""
    return Signal(name, "deg", time_s, values, np.full(len(time_s), 1.0), 5.0)
