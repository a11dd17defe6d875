"""A measured set, as it would have been measured had the person moved by another law of motion.

What a moment's pose measures stays; only when the pose is reached changes. So a learner sees many laws
of motion although the renderer has one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sample_clips.learning.laws import LAWS, SHARES
from sample_clips.rendering.profile import phase_bounds
from vision.measuring.reps.phases import Bounds

#: A drive that moves less than this share of its range in a hundredth of a second stands still.
STANDS = 1e-3
#: Phases become so much longer, stays between them likewise: further, and lag and noise were not the model's.
PHASE_TIMES, STAY_TIMES = (0.65, 1.6), (0.3, 2.0)


@dataclass(frozen=True)
class MeasuredSet:
    """time_s (T,), drive (T,) degrees, course (T, D) of the limb; reps: true bounds of full repetitions."""

    time_s: np.ndarray
    drive: np.ndarray
    course: np.ndarray
    reps: list[Bounds]


def by_law(
    plain: MeasuredSet, truth: tuple[np.ndarray, np.ndarray], law: str, rng: np.random.Generator
) -> MeasuredSet:
    """The set with both phases of each repetition moved by a law; truth: clock and drive (F,) before."""
    way = LAWS[law](rng)
    longer = {True: rng.uniform(*PHASE_TIMES), False: rng.uniform(*PHASE_TIMES)}
    stay = rng.uniform(*STAY_TIMES)
    then, now = [float(plain.time_s[0])], [float(plain.time_s[0])]
    after, reps, told = plain.time_s[0], [], []
    for rep in plain.reps:
        for lift, phase in zip((True, False), _phases(rep, *truth), strict=True):
            first = max(phase[0], after)
            now.append(now[-1] + (first - then[-1]) * (stay if len(then) > 1 else 1.0))
            then.append(first)
            length = (phase[1] - first) * longer[lift]
            share = way(rng, lift)
            told += phase_bounds(now[-1] + SHARES * length, share)  # type: ignore[no-untyped-call]
            old = _reached(first, phase[1], *truth, share)
            now += (now[-1] + SHARES[1:] * length).tolist()
            then += old[1:].tolist()
            after = phase[1]
        reps.append((told[-4], told[-3], told[-2], told[-1]))
    now.append(now[-1] + float(plain.time_s[-1]) - then[-1])
    then.append(float(plain.time_s[-1]))
    step = float(plain.time_s[1] - plain.time_s[0])
    time_s = np.arange(0.0, now[-1] - now[0], step) + now[0]
    old_s = np.interp(time_s, now, then)
    drive = np.interp(old_s, plain.time_s, plain.drive)
    course = np.column_stack([np.interp(old_s, plain.time_s, column) for column in plain.course.T])
    return MeasuredSet(time_s, drive, course, reps)


def _phases(rep: Bounds, clock_s: np.ndarray, drive: np.ndarray) -> list[tuple[float, float]]:
    """When each phase really begins and ends: outward from where it passes 5 % of its peak speed."""
    middle = (rep[1] + rep[2]) / 2
    size = abs(float(np.interp(middle, clock_s, drive)) - float(np.interp(rep[0], clock_s, drive)))
    steps = zip(rep, (-1, 1, -1, 1), strict=True)
    start, turn, lower, end = (_edge(m, step, clock_s, drive, size) for m, step in steps)
    return [(start, min(turn, middle)), (max(lower, middle), end)]


def _edge(moment_s: float, step: int, clock_s: np.ndarray, drive: np.ndarray, size: float) -> float:
    for _ in range(60):
        here, there = np.interp([moment_s, moment_s + step / 100], clock_s, drive)
        if abs(there - here) < STANDS * size:
            break
        moment_s += step / 100
    return moment_s


def _reached(
    start: float, end: float, clock_s: np.ndarray, drive: np.ndarray, wanted: np.ndarray
) -> np.ndarray:
    """When the drive had reached each wanted share of a phase's way."""
    inside = (clock_s > start) & (clock_s < end)
    times = np.concatenate([[start], clock_s[inside], [end]])
    values = np.interp(times, clock_s, drive)
    way = (values - values[0]) / (values[-1] - values[0])
    way = np.maximum.accumulate(np.clip(way, 0.0, 1.0)) + 1e-9 * np.arange(len(way))
    return np.asarray(np.interp(wanted, way, times))
