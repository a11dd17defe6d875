"""Whole sets made of signals alone: a drive with known repetitions, and one fault of a known size."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np

from shared.domain import Floats, RepSet, Signal, Track, View
from shared.exercise import Exercise, find_exercise
from shared.report import FindingPart
from tests.synthetic import RATE_HZ, RepTruth, SetTruth
from vision.judging.bind import bind
from vision.judging.check import Context
from vision.judging.findings import judge_reps
from vision.measuring.learnt.uncertainty import clip_half_width
from vision.measuring.reps.find_reps import find_reps

PLAIN = SetTruth((RepTruth(rest_s=0.5),) * 8)
YAW = {"side": ("side-left", 90.0), "front": ("front", 0.0), "rear": ("rear", 180.0)}
ARM_DEGREES = ("arm_horizontal", "arm_below_level", "elbow_by_lengths")
DEGREES = ("trunk_pitch", "head_pitch", "joint_angle", *ARM_DEGREES)


def track(view: str, time_s: Floats) -> Track:
    """A track without points: all that checks ask of it is its view and its scale."""
    shape = (len(time_s), 33)
    name, yaw = YAW[view]
    return Track(
        time_s, RATE_HZ, np.full((*shape, 2), np.nan), np.full((*shape, 3), np.nan), np.full(shape, np.nan),
        np.zeros(33), "left", int(view == "side"), View(name, 0.0, yaw), 200.0, (720, 1280),  # type: ignore[arg-type]
    )  # fmt: skip


@cache
def set_of(name: str, truth: SetTruth = PLAIN) -> tuple[Exercise, Signal, RepSet]:
    """The exercise, its drive doing the set in the direction in which it counts, and what is found of it."""
    exercise = find_exercise(name)
    time_s = np.arange(0, truth.duration_s, 1 / RATE_HZ)
    values = truth.drive(time_s)
    if exercise.drive.lift == "falling":
        values = 2 * truth.low + truth.range - values
    drive = Signal(exercise.drive.signal, "deg", time_s, values, np.zeros(len(time_s)), 5.0)
    reps = find_reps(drive, exercise.drive.lift)
    assert reps is not None
    return exercise, drive, reps


def context(
    name: str,
    others: Mapping[str, float | Floats] | None = None,
    truth: SetTruth = PLAIN,
    view: str = "side",
) -> Context:
    """A set of the exercise in which every other signal keeps still, but for those that are given."""
    exercise, drive, reps = set_of(name, truth)
    seen = track(view, drive.time_s)
    plan = bind(exercise)
    signals = {}
    for key, spec in exercise.signals.items():
        if key == exercise.drive.signal:
            signals[key] = drive
            continue
        unit = "deg" if spec.kind in DEGREES else "trunk_fraction"
        values = np.zeros(len(drive.time_s)) + (others or {}).get(key, 0.0)
        half = clip_half_width(spec.kind, plan.signals[key][1], exercise, seen, unit, None)  # type: ignore[arg-type]
        signals[key] = Signal(key, unit, drive.time_s, values, np.zeros(len(values)), half)  # type: ignore[arg-type]
    return Context(seen, signals, reps, exercise)


def found(ctx: Context, check: str) -> list[FindingPart]:
    """What one check says of the set."""
    frames = [(t, i) for i, t in enumerate(ctx.track.time_s)]
    return [f for f in judge_reps(ctx, bind(ctx.exercise), frames, cleared=True) if f.check == check]


def bump(reps: RepSet, number: int, time_s: Floats, at: str = "middle") -> Floats:
    """0 everywhere and 1 about the middle, or the end, of one repetition, smooth between."""
    rep = reps.reps[number - 1]
    if at == "end":
        return np.exp(-(((time_s - rep.end_s) / 0.45) ** 4))
    middle, half = (rep.turn_s + rep.lower_start_s) / 2, (rep.end_s - rep.start_s) / 2
    return np.exp(-(((time_s - middle) / (0.6 * half)) ** 4))
