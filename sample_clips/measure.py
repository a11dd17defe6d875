"""How far an analysis lies from the truth of its rendered clip, as rows of one kind each.

A row is a dict with the keys exercise, clip, body (its height tells it), conditions, kind and, by kind:
``error`` (what was measured less what is true), ``half`` (the stated half-width of the 90 % interval),
``phase_s``, or a flag's ``check, rep, verdict, excess, margin``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from sample_clips.looks import seen_again_cached, seen_cached
from sample_clips.rendered import CACHE, truth_arrays, truth_of
from sample_clips.rendering.faults import ARMPIT_BELOW_SHOULDER_CM
from shared.domain import Landmarks, Rep
from shared.exercise import CheckSpec, find_exercise
from shared.limit import beyond
from vision.judging.check import set_start
from vision.judging.options import Options
from vision.pipeline import judge_twice
from vision.seeing.look import Seen
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.telling.analysis import Analysis

#: The chest press's handles may come back to here, ahead of the shoulder joints.
HANDLE_FRONT_CM = 8.0
#: Upper arm and forearm over stature (Drillis and Contini in Winter 2009).
ARM_OVER_STATURE = 0.186 + 0.146

Row = dict[str, Any]
Truth = dict[str, Any]
Arrays = dict[str, np.ndarray]
TIMES = ("start_s", "turn_s", "lower_start_s", "end_s")
#: Where the truth of a check's measure stands in a repetition's truth, and what it is multiplied by and
#: added to, so that it is in our direction and of our kind (lengths in cm).
MEASURES: dict[str, tuple[str, float, float]] = {
    "knee-lockout": ("max_knee_deg", 1.0, 0.0),
    "elbow-lockout": ("max_elbow_deg", 1.0, 0.0),
    "chest-drop": ("trunk_pitch_change_deg", 1.0, 0.0),
    "lean-back": ("trunk_pitch_change_deg", -1.0, 0.0),
    "short-range": ("range_share", 100.0, 0.0),
    "hip-slide": ("hip_forward_cm", 1.0, 0.0),
    "head-drop": ("head_pitch_change_deg", 1.0, 0.0),
    "head-level": ("head_pitch_change_deg", 1.0, 0.0),
    "feet-moving": ("feet_forward_cm", 1.0, 0.0),
    "shrug": ("shoulder_raise_cm", 1.0, 0.0),
    "hands-push-down": ("wrist_below_elbow_cm", 1.0, 0.0),
    "hands-high": ("lowest_wrist_over_shoulder_cm", 1.0, ARMPIT_BELOW_SHOULDER_CM),
    "press-height": ("hands_over_mid_chest_cm", 1.0, 0.0),
    "elbow-bend": ("min_elbow_deg", 1.0, 0.0),
    "arm-level": ("max_arm_level_deg", 1.0, 0.0),
    "uneven-sides": ("uneven_cm", 1.0, 0.0),
    "stack-rest": ("stack_rest_s", 1.0, 0.0),
    "rushed-turn": ("turn_deceleration_ratio", 1.0, 0.0),
}
#: Without a mark on the stack the limbs tell a pause, whether the load rests in it or not.
PAUSE = "rest_at_load_down"
#: Checks of a change either way: its size counts.
EITHER_WAY = ("head-level", "feet-moving", "uneven-sides")
#: A change's truth is its largest either way: only a check of that direction can be held to it.
ONE_WAY = ("chest-drop", "lean-back", "hip-slide", "head-drop", "shrug")
#: Drive at an end of the repetition.
ENDS = {"short-lift-end": "drive_lift_end_deg", "short-load-down-end": "drive_load_down_deg"}
#: Where the truth of a whole set's measure stands.
OF_THE_SET = {
    "uneven-tempo": "tempo_cv_percent",
    "late-fade": "late_range_percent",
    "late-fade-tempo": "late_tempo_percent",
    "late-fade-posture": "late_posture_reps",
    "creep": "hip_creep_cm",
}


def measure_clip(
    clip: Path,
    raw: bool = False,
    thorough: bool = False,
    model: Path | None = None,
    spoil: Callable[[Seen], Seen] | None = None,
) -> list[Row]:
    """Look (cached), judge, and hold against the truth; spoil: breaks what was seen."""
    truth = truth_of(clip)
    pose = MediaPipePose(model)
    whole = seen_cached(clip, pose, CACHE)
    seen = spoil(whole) if spoil else whole

    def again() -> Landmarks:
        second = replace(whole, dense=seen_again_cached(clip, pose, CACHE, whole))
        dense = (spoil(second) if spoil else second).dense
        assert dense is not None
        return dense

    exercise = find_exercise(truth["run_as"] or truth["exercise"])
    analysis = judge_twice(seen, exercise, Options(raw=raw, cleared=True, thorough=thorough), again)
    return measure(analysis, truth, truth_arrays(clip.with_name(f"{clip.stem}.truth.npz")))


def measure(analysis: Analysis, truth: Truth, arrays: Arrays) -> list[Row]:
    """Every row of one clip."""
    base = {
        "exercise": truth["exercise"],
        "clip": truth["name"],
        "body": truth["body"]["stature_cm"],
        "part": truth["part"],
        "conditions": truth["conditions"],
        "view": truth["view"],
    }
    rows = [_fitness(analysis, truth)]
    if truth["fit"] and analysis.report.quality.usable and analysis.reps is not None:
        rows.append({"kind": "count", "error": len(analysis.reps.full) - truth["count"]})
        pairs = match(analysis.reps.reps, truth["reps"])
        rows += _times(pairs) + _ends(analysis, pairs) + _pitch(analysis, arrays)
        rows += _verdicts(analysis, truth, pairs)
    return [base | row for row in rows]


def _fitness(analysis: Analysis, truth: Truth) -> Row:
    codes = [p.code for p in analysis.report.quality.problems]
    right = bool(set(truth["problems"]) & set(codes)) if not truth["fit"] else not codes
    return {"kind": "fit", "fit": truth["fit"], "right": right, "codes": codes, "wanted": truth["problems"]}


def match(found: tuple[Rep, ...], true: list[Row]) -> list[tuple[Rep, Row]]:
    """Pairs that share a turn: each true repetition with the found one nearest to it, within its time."""
    pairs = []
    for row in true:
        near = min(found, key=lambda rep: abs(rep.turn_s - row["turn_s"]), default=None)
        if near is not None and row["start_s"] <= near.turn_s <= row["end_s"]:
            pairs.append((near, row))
    return pairs


def _times(pairs: list[tuple[Rep, Row]]) -> list[Row]:
    rows: list[Row] = []
    for rep, row in pairs:
        for name in TIMES:
            phase = row["lift_s"] if name in TIMES[:2] else row["lower_s"]
            error = getattr(rep, name) - row[name]
            rows.append({"kind": "time", "which": name, "error": error, "phase_s": phase})
        for name in ("lift_s", "lower_s"):
            error = getattr(rep, name) - row[name]
            rows.append({"kind": "duration", "which": name, "error": error, "phase_s": row[name]})
    return rows


def _ends(analysis: Analysis, pairs: list[tuple[Rep, Row]]) -> list[Row]:
    """The drive at both ends, and its change from the set's mean at that end."""
    drive = analysis.signals[analysis.exercise.drive.signal]
    rows: list[Row] = []
    for end, ours, theirs in (
        ("lift", "at_lift_end", "drive_lift_end_deg"),
        ("down", "at_load_down", "drive_load_down_deg"),
    ):
        full = [(getattr(rep, ours), row[theirs]) for rep, row in pairs if not row["partial"]]
        if not full:
            continue
        values = np.array(full)
        errors = values[:, 0] - values[:, 1]
        changes = errors - errors.mean()
        half = float(np.hypot(drive.clip_half, np.nanmedian(drive.moment_half)))
        for told, error, change in zip(values[:, 0], errors, changes, strict=True):
            rows.append(
                {"kind": "end", "which": end, "error": float(error), "half": half, "told": float(told)}
            )
            rows.append({"kind": "change", "which": end, "error": float(change)})
    return rows


def _pitch(analysis: Analysis, arrays: Arrays) -> list[Row]:
    signal = analysis.signals.get("trunk")
    if signal is None or signal.unjudgeable or analysis.reps is None:
        return []
    start = set_start(signal, analysis.reps)
    if start is None:
        return []
    inside = (signal.time_s >= analysis.reps.start_s) & (signal.time_s <= analysis.reps.end_s)
    true = np.interp(signal.time_s, arrays["time_s"], arrays["trunk_pitch_deg"])
    ends = [
        np.interp(rep.start_s, arrays["time_s"], arrays["trunk_pitch_deg"]) for rep in analysis.reps.full[:2]
    ]
    errors = ((signal.values - start) - (true - float(np.median(ends))))[inside][::6]
    return [{"kind": "pitch", "error": float(e)} for e in errors if np.isfinite(e)]


def _verdicts(analysis: Analysis, truth: Truth, pairs: list[tuple[Rep, Row]]) -> list[Row]:
    """One row for every finding that belongs to a true repetition or to the set; lengths in cm.

    What a view cannot answer at all says so and has no row here.
    """
    true_of = {rep.number: row for rep, row in pairs}
    faulty = {(f["check"], f["rep"]) for f in truth["faults"]}
    whole = truth.get("set", {})
    rows: list[Row] = []
    for finding in analysis.report.findings:
        spec = analysis.exercise.check(finding.check)
        row = true_of.get(finding.rep) if finding.rep is not None else None
        if finding.reason_code == "view" or (finding.rep is not None and row is None):
            continue
        number = row["number"] if row else None
        value = (
            set_value(spec, whole)
            if finding.rep is None
            else true_value(spec, row, truth["exercise"], truth["body"]["stature_cm"])
        )
        if spec.id == "elbow-bend" and truth["arm_pads"]:  # bent throughout, and no fault there
            value = None
        to_cm = truth["body"]["trunk_cm"] if finding.unit == "trunk_fraction" else 1.0
        rows.append(
            {
                "kind": "verdict",
                "check": finding.check,
                "rep": number,
                "verdict": finding.verdict,
                "true": value,
                "measured": None if finding.measured is None else finding.measured * to_cm,
                "half": None if finding.uncertainty is None else finding.uncertainty * to_cm,
                "fault": (finding.check, number) in faulty if row or value is not None else None,
                "excess": None if value is None else beyond(value, *spec.limit.resolved(in_cm=True)),
                "margin": spec.detect_margin,
                "comparable": value is not None and (finding.check not in ONE_WAY or value > 0),
                "reason": finding.reason,
            }
        )
    return rows


def true_value(spec: CheckSpec, row: Row | None, exercise: str, stature_cm: float) -> float | None:
    """The true value of what a check measures on one repetition, None where the truth has none."""
    if row is None:
        return None
    if spec.id == "too-fast":
        return float(min(row["lift_s"], row["lower_s"]))
    if spec.id == "dropped-load":
        return float(row["lower_s"] / row["lift_s"])
    if spec.measure == PAUSE:
        return None if row["rest_s"] is None else float(row["rest_s"])
    if spec.id in ENDS:
        return float(row[ENDS[spec.id]])
    if spec.id == "hands-behind":
        line_cm = HANDLE_FRONT_CM if exercise == "chest-press" else 0.0
        return line_cm - float(row["measures"]["hands_behind_cm"])
    if spec.id == "past-body":
        out_deg = float(row["measures"]["max_arm_horizontal_deg"])
        return ARM_OVER_STATURE * stature_cm * float(np.cos(np.radians(out_deg)))
    name, factor, more = MEASURES.get(spec.id, ("", 1.0, 0.0))
    if row["measures"].get(name) is None:
        return None
    value = factor * float(row["measures"][name]) + more
    return abs(value) if spec.id in EITHER_WAY else value


def set_value(spec: CheckSpec, whole: Row) -> float | None:
    """The same of a check of the whole set."""
    value = whole.get(OF_THE_SET.get(spec.id, ""))
    return None if value is None else float(value)
