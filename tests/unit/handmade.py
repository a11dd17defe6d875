"""An analysis made by hand, twelve leg extensions with known faults, for tests of what is written out."""

from __future__ import annotations

import numpy as np

from shared.domain import Clip, Landmarks, Rep, RepSet, Signal, Track, View
from shared.exercise import Exercise, find_exercise
from shared.report import ClipPart, FindingPart, RepPart, SetReport
from vision.common.cautions import CAUTIONS
from vision.common.prompts import member_prompt
from vision.judging.options import Options
from vision.telling.analysis import Analysis

RATE = 30.0
LOCKED = {4: 181.0, 9: 179.0}
DROPPED = {11: 14.0}
PARTIAL = 8
TOO_DARK = "The picture is too dark to see the limbs; film with a lamp behind you."
CLIP = Clip("tuesday-mara.mov", 62.0, 1860, 30.0, 1080, 1920, 90)


def reps() -> list[Rep]:
    made = []
    for n in range(1, 14):
        start = 3.0 + 4.3 * (n - 1)
        turn, lower = start + 1.5, start + 1.8
        end = lower + (0.7 if n == 11 else 1.9)
        top = LOCKED.get(n, 160.0) if n != PARTIAL else 128.0
        rest = None if n == 13 else 3.0 + 4.3 * n - end
        made.append(
            Rep(n, start, turn, lower, end, rest, 90.0, top, top, 90.0, 80.0, 75.0, n == PARTIAL,
                0.55 if n == PARTIAL else 1.0)
        )  # fmt: skip
    return made


def _signal(name: str, low: float, high: dict[int, float], usual: float) -> Signal:
    time = np.arange(0, CLIP.duration_s, 1 / RATE)
    values = np.full_like(time, low)
    for rep in reps():
        top = 128.0 if rep.number == PARTIAL and name == "knee" else high.get(rep.number, usual)
        shape = np.interp(time, [rep.start_s, rep.turn_s, rep.lower_start_s, rep.end_s], [0, 1, 1, 0])
        values += (top - low) * (1 - np.cos(np.pi * shape)) / 2
    values[(time > 30) & (time < 30.6)] = np.nan
    return Signal(name, "deg", time, values, np.full_like(time, 1.5), 3.0, ("left_hip", "left_knee"))


def _finding(
    exercise: Exercise,
    check: str,
    rep: int | None,
    verdict: str,
    measured: float | None,
    half: float | None,
    limit: object,
    time_s: float | None,
    reason: str | None = None,
) -> FindingPart:
    spec = exercise.check(check)
    return FindingPart(
        check=check, rep=rep, time_s=time_s, frame=None if time_s is None else int(time_s * 30),
        verdict=verdict, measured=measured, uncertainty=half, limit=limit, unit=spec.unit,  # type: ignore[arg-type]
        prompt=member_prompt(spec, verdict, measured, half), reason=reason, title=spec.title,  # type: ignore[arg-type]
    )  # fmt: skip


def findings(exercise: Exercise) -> list[FindingPart]:
    made = [_finding(exercise, "rep-target", None, "clear", 12, 0.0, (12.0, 15.0), None)]
    for rep in reps():
        n, at = rep.number, rep.turn_s
        knee = "flag" if n in LOCKED else "clear"
        made.append(_finding(exercise, "knee-lockout", n, knee, rep.at_lift_end, 4.2, 172.0, at))
        fall = DROPPED.get(n, 2.0 if n != 6 else 11.0)
        posture = "flag" if n in DROPPED else "watch" if n == 6 else "clear"
        made.append(_finding(exercise, "chest-drop", n, posture, fall, 2.1, 10.0, at))
        if n == 11:
            made.append(_finding(exercise, "dropped-load", n, "flag", 0.466, 0.06, 0.6, rep.end_s))
        if n == 7:
            made.append(_finding(exercise, "lean-back", n, "cannot-tell", None, None, 10.0, None,
                                 "The shoulder was hidden behind the trainer."))  # fmt: skip
    return made


def rep_parts() -> list[RepPart]:
    return [RepPart.of(rep) for rep in reps()]


def analysis(usable: bool = True, exercise: Exercise | None = None, **changes: object) -> Analysis:
    """The hand-made set; changes: fields of the report to set otherwise."""
    exercise = exercise or find_exercise("leg-extension")
    problems = [] if usable else [{"code": "too-dark", "text": TOO_DARK}]
    fields: dict[str, object] = {
        "exercise": exercise.name,
        "clip": {k: getattr(CLIP, k) for k in ClipPart.model_fields},
        "quality": {"usable": usable, "view": "side-left", "view_deg": 6.0, "problems": problems},
        "count": 12 if usable else None,
        "reps": rep_parts() if usable else [],
        "unjudged": None if usable else {"count": 12, "reps": rep_parts()},
        "tempo": {"sentence": "Moderate and steady: about 1.5 s up and 1.9 s down."} if usable else None,
        "findings": findings(exercise) if usable else [],
        "scale": {"unit": "trunk_fraction"},
        "cautions": [*CAUTIONS, *exercise.cautions],
        "versions": {"plumbset": "0.1.0"},
    }  # fmt: skip
    report = SetReport.model_validate({"schema": "plumbset.set-report/1", **fields, **changes})
    signals = {
        "knee": _signal("knee", 90, LOCKED, 160),
        "trunk": _signal("trunk", 12, {11: 26.0, 6: 23.0}, 14),
    }
    return Analysis(CLIP, exercise, Options(), (_nobody(),), _nobody(), track(), signals,
                    RepSet(tuple(reps()), 70.0, 3.0, 58.0), report)  # fmt: skip


def _nobody() -> Landmarks:
    none = np.full((1, 1, 33, 3), np.nan)
    return Landmarks(np.array([0]), np.array([0.0]), none, none, none[..., 0], none[..., 0])


def track() -> Track:
    time = np.arange(0, CLIP.duration_s, 1 / RATE)
    shape = (len(time), 33)
    return Track(
        time, RATE, np.full((*shape, 2), np.nan), np.full((*shape, 3), np.nan), np.full(shape, np.nan),
        np.zeros(33), "left", 1, View("side-left", 6.0, 84.0), 300.0, (1080, 1920),
    )  # fmt: skip
