"""A set judged anew from the numbers that it left: its repetitions and its signals, without landmarks.

What hangs on landmarks, on pictures or on marks of the machine cannot be judged so, see ``untold``.
Repetitions are taken as they were counted, and a flag is not looked at a second time. How far off its view
the camera stood, how small the person was and how the picture trembled is not kept: times and ranges are then
taken to be surer than the clip's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shared.columns import UNCERTAINTY, signal_of
from shared.domain import Floats, Rep, RepSet, Signal, Signals, Track, View, ViewName
from shared.drive import FULL_SHARE
from shared.exercise import CheckSpec, Exercise
from shared.keypoints import KEYPOINTS
from shared.report import FindingPart, RepPart
from vision.judging.approved import Trace
from vision.judging.bind import Plan, bind
from vision.judging.check import Context
from vision.judging.findings import CM_PER_TRUNK, judge_reps
from vision.measuring.learnt.uncertainty import SURE_TRUNK_PX

_YAW = {"front": 0.0, "side-left": 90.0, "rear": 180.0, "side-right": -90.0, "oblique": 60.0}


@dataclass(frozen=True, kw_only=True)
class Numbers:
    """What is left of a set.

    shares: each repetition's share of the usual range, by its number; traces: the columns of signals.csv;
    in_cm: whether lengths are in centimetres.
    """

    view: ViewName
    in_cm: bool
    reps: Sequence[RepPart]
    shares: Mapping[int, float]
    traces: Mapping[str, Trace]


def judge_numbers(numbers: Numbers, exercise: Exercise) -> list[FindingPart]:
    """The findings of every check that can be judged so. exercise: with marks and the member's own limits.

    Raises
    ------
    DefinitionError : a name in the definition is unknown.
    """
    plan, signals = bind(exercise), _signals(numbers)
    left_out = set(untold(exercise, numbers.traces))
    if exercise.drive.signal not in signals or not any(not rep.partial for rep in numbers.reps):
        return []
    plan = Plan(plan.signals, tuple(one for one in plan.checks if one.spec.id not in left_out))
    ctx = Context(_track(numbers), signals, reps=_reps(numbers, exercise), exercise=exercise)
    return judge_reps(ctx, plan, frame_at=(), cleared=True)


def untold(exercise: Exercise, columns: Iterable[str]) -> list[str]:
    """Ids of the checks that cannot be judged from numbers: their mark or their signal is not among them."""
    known = {named[0] for column in columns if (named := signal_of(column)) is not None}
    return [
        bound.spec.id
        for bound in bind(exercise).checks
        if bound.traits.needs_mark is not None or not _needs(bound.spec, exercise) <= known
    ]


def _needs(spec: CheckSpec, exercise: Exercise) -> set[str]:
    """Names of the signals that a check looks at."""
    own = {spec.signal, spec.params.get("shift"), *spec.params.get("also", ())} - {None}
    return {str(name) for name in own} | {exercise.drive.signal}


def _signals(numbers: Numbers) -> Signals:
    found = {}
    for column, trace in numbers.traces.items():
        if (named := signal_of(column)) is not None:
            name, unit = named
            moment, clip = _parts(numbers.traces.get(column + UNCERTAINTY), trace.values)
            found[name] = Signal(
                name, unit, time_s=trace.time_s, values=trace.values, moment_half=moment, clip_half=clip
            )
    return found


def _parts(half: Trace | None, values: Floats) -> tuple[Floats, float]:
    """What changes from moment to moment, and what is shared: the smallest half-width is all of it."""
    if half is None or np.isnan(half.values).all():
        return np.full(len(values), np.nan), float("nan")
    clip = float(np.nanmin(half.values))
    return np.sqrt(np.maximum(half.values**2 - clip**2, 0.0)), clip


def _track(numbers: Numbers) -> Track:
    """A track without points: the view, and for lengths in centimetres a trunk of ``CM_PER_TRUNK``."""
    time_s = next(iter(numbers.traces.values())).time_s
    blank = np.full((len(time_s), len(KEYPOINTS), 3), np.nan)
    return Track(
        time_s, rate_hz=1.0, points_px=blank[..., :2], world_m=blank, visibility=blank[..., 0],
        jitter_px=blank[0, :, 0], near="right" if numbers.view == "side-right" else "left", facing=0,
        view=View(numbers.view, off_deg=0.0, yaw_deg=_YAW[numbers.view]),
        trunk_px=SURE_TRUNK_PX, picture=(0, 0),
        cm_per_px=CM_PER_TRUNK / SURE_TRUNK_PX if numbers.in_cm else None,
    )  # fmt: skip


def _reps(numbers: Numbers, exercise: Exercise) -> RepSet:
    ranges = [rep.drive_max_deg - rep.drive_min_deg for rep in numbers.reps]
    known = [
        r / s for rep, r in zip(numbers.reps, ranges, strict=True) if (s := numbers.shares.get(rep.number))
    ]
    usual = float(np.median(known or ranges))
    rising = exercise.drive.lift == "rising"
    reps = []
    for rep, size in zip(numbers.reps, ranges, strict=True):
        share, unsure = numbers.shares.get(rep.number, size / usual), 0.0
        if rep.number not in numbers.shares and not rep.partial and share < FULL_SHARE:
            # Counted, though the joint seemed to go less: how far it went was not told then either.
            share, unsure = (share + 1.0) / 2, (1.0 - share) / 2
        reps.append(_rep(rep, rising, share, unsure=unsure))
    return RepSet(tuple(reps), usual, start_s=reps[0].start_s, end_s=reps[-1].end_s)


def _rep(rep: RepPart, rising: bool, share: float, unsure: float) -> Rep:
    ends = (rep.drive_max_deg, rep.drive_min_deg) if rising else (rep.drive_min_deg, rep.drive_max_deg)
    return Rep(
        number=rep.number, start_s=rep.start_s, turn_s=rep.turn_s, lower_start_s=rep.lower_start_s,
        end_s=rep.end_s, rest_s=rep.rest_s, drive_min=rep.drive_min_deg, drive_max=rep.drive_max_deg,
        at_lift_end=ends[0], at_load_down=ends[1], lift_peak_speed=rep.lift_peak_speed,
        lower_peak_speed=rep.lower_peak_speed, partial=rep.partial, range_share=share, range_unsure=unsure,
    )  # fmt: skip
