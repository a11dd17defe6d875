"""Exact sets by any law of motion, and what looking at them five times a second would measure.

No picture is needed: the limb is eight coordinates that each follow the drive in their own way, the first
of them the drive's angle, which now and then hardly changes near an end. Lag, noise and its memory are those
of the landmark model on the rendered sample clips: a lag of 0.01 to 0.035 s, a spread of about one degree
that is a fifth of it while the limb rests, half of it with a memory of 0.2 s.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from sample_clips.learning.laws import LAWS, SHARES
from sample_clips.rendering.profile import phase_bounds
from vision.measuring.reps.ends import TRUNK_DEG
from vision.measuring.reps.phases import Bounds
from vision.measuring.track.build import RATE_HZ
from vision.measuring.track.filters import butterworth
from vision.seeing.look import LANDMARK_STEP_S

#: Clock of the exact motion; coordinates; cut-off of the track's low-pass; degrees from end to end.
EXACT_HZ, COORDINATES, CUTOFF_HZ, RANGE_DEG = 200.0, 8, 6.0, 75.0
SPREAD, MEMORY_S, DRIFT_S, STILL_SPEED = 0.012, 0.22, 3.0, 0.25


@dataclass(frozen=True)
class ExactSet:
    """time_s, share (T,): how far the load is up; reps: the true bounds of each repetition."""

    time_s: np.ndarray
    share: np.ndarray
    reps: list[Bounds]


def exact_set(law: str, rng: np.random.Generator) -> ExactSet:
    """A set of five to nine repetitions by one law: a tempo, holds and rests of its own."""
    way = LAWS[law](rng)
    slow = (2.5, 5.0) if law == "long slow lowering" else (0.8, 5.0)
    lift_s, lower_s = (float(np.exp(rng.uniform(*np.log(r)))) for r in ((0.8, 3.5), slow))
    hold_s, rest_s = ([0.0, rng.uniform(0, 0.5), rng.uniform(0, 2)][rng.integers(3)] for _ in range(2))
    count, uneven = int(rng.integers(5, 10)), rng.uniform(0.02, 0.15)
    sag = rng.uniform(0, 0.02) * rng.choice([0, 1, 1])
    clock, level = float(rng.uniform(1.2, 2.5)), 0.0
    times, levels = [np.array([0.0, clock])], [np.zeros(2)]
    reps = []
    for _ in range(count):
        up_s, top_s, down_s, low_s = (
            s * np.exp(rng.normal(0, uneven)) for s in (lift_s, hold_s, lower_s, rest_s)
        )
        top, low = 1 + rng.normal(0, 0.03), rng.normal(0, 0.015)
        sunk = top - sag * min(1.0, top_s) * rng.random()
        up, down = way(rng, True), way(rng, False)
        lift, lower = clock + SHARES * up_s, clock + up_s + top_s + SHARES * down_s
        times += [lift, lower]
        levels += [level + (top - level) * up, sunk + (low - sunk) * down]
        reps.append((*phase_bounds(lift, up), *phase_bounds(lower, down)))  # type: ignore[no-untyped-call]
        clock, level = float(lower[-1]) + low_s, low
    end_s = clock + float(rng.uniform(1.2, 2.5))
    time_s = np.arange(0, end_s, 1 / EXACT_HZ)
    share = np.interp(time_s, np.concatenate(times), np.concatenate(levels))
    if law == "tremor" or rng.random() < 0.15:
        size, hertz = rng.uniform(0.002, 0.012), rng.uniform(5, 11)
        share = share + size * np.sin(2 * np.pi * hertz * time_s) * np.sqrt(np.clip(share, 0.05, 1))
    return ExactSet(time_s, share, reps)


def measured(exact: ExactSet, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Clock (T,) s, drive (T,) degrees and course (T, 8), see ``vision.measuring.reps.ends.limb_course``."""
    looks = _look_times(float(exact.time_s[-1]), rng)
    share = np.interp(looks - rng.uniform(0.01, 0.035), exact.time_s, exact.share)
    quiet, loud = rng.uniform(0.15, 0.6), np.exp(rng.normal(0, 0.5))
    moving = quiet + (1 - quiet) * np.minimum(1, np.abs(np.gradient(share, looks)) / STILL_SPEED)
    together = _remembering(len(looks), MEMORY_S, rng)
    clock = np.arange(0, looks[-1], 1 / RATE_HZ)
    columns = []
    for k in range(COORDINATES):
        place = (_angle if k == 0 else _coordinate)(share, rng)
        spread = SPREAD * loud * np.exp(rng.normal(0, 0.5))
        noise = 0.5 * rng.normal(size=len(looks)) + 0.7 * _remembering(len(looks), MEMORY_S, rng)
        noise = moving * (noise + 0.7 * rng.choice([-1, 1]) * together)
        noise = spread * (noise + 0.4 * _remembering(len(looks), DRIFT_S, rng))
        columns.append(butterworth(np.interp(clock, looks, place + noise), RATE_HZ, CUTOFF_HZ))
    drive = RANGE_DEG * columns[0]
    return clock, drive, np.column_stack([drive / TRUNK_DEG, *columns[1:]])


def _look_times(end_s: float, rng: np.random.Generator) -> np.ndarray:
    fps = float(rng.choice([25, 29.97, 30, 50, 60]))
    frames = np.arange(0, end_s, 1 / fps)
    if rng.random() < 0.3:
        frames = frames + rng.uniform(-0.3, 0.3, len(frames)) / fps
    return np.asarray(frames[:: round(LANDMARK_STEP_S * fps)])


def _remembering(count: int, memory_s: float, rng: np.random.Generator) -> np.ndarray:
    """Noise of spread one that forgets within ``memory_s``."""
    kept = float(np.exp(-LANDMARK_STEP_S / memory_s))
    white = rng.normal(size=count) * np.sqrt(1 - kept**2)
    white[0] /= np.sqrt(1 - kept**2)
    return np.asarray(lfilter([1.0], [1.0, -kept], white))


def _angle(share: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """What an angle shows of the way: near an end now and then hardly anything."""
    grid = np.linspace(-0.3, 1.3, 400)
    slope = np.ones(len(grid))
    for beyond in (-grid, grid - 1):
        flat = rng.uniform(0.05, 0.5) if rng.random() < 0.35 else rng.uniform(0.6, 1.3)
        slope += (flat - 1) * np.exp(-((np.minimum(beyond, 0) / rng.uniform(0.05, 0.2)) ** 2))
    shown = np.cumsum(slope)
    first, last = np.interp([0, 1], grid, shown)
    return np.asarray(np.interp(share, grid, (shown - first) / (last - first)))


def _coordinate(share: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """A coordinate of the limb: part of an ellipse, or like the angle."""
    size = rng.uniform(0.1, 1.0)
    if rng.random() < 0.4:
        return np.asarray(size * _angle(share, rng))
    from_, turned = rng.uniform(-0.6, 0.6), 1.3 * rng.uniform(-1.2, 1.2)
    return np.asarray(size * (np.sin(from_ + turned * share) - np.sin(from_)) / 1.2)
