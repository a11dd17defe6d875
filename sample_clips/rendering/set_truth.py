"""Truth of what needs the whole set: what fades at its end, what creeps over it, how turns are taken."""

from __future__ import annotations

import itertools

import numpy as np

FEWEST_REPS = 6
TURN_WINDOW_S = 0.3
SPEED_OVER_S = 0.1


def turn_decelerations(timeline):
    """Peak deceleration (deg/s2, over 0.1 s) at the load-down turn of each repetition but the last.

    Over a tenth of a second, since a dead stop has no finite one.
    """
    out = []
    for rep, _ in itertools.pairwise(timeline.reps):
        times = rep.lower.end_s + np.arange(-TURN_WINDOW_S, TURN_WINDOW_S, 0.01)
        speed = lambda t: (timeline.drive(t + 0.005) - timeline.drive(t - 0.005)) / 0.01  # noqa: E731
        half = SPEED_OVER_S / 2
        change = [abs(speed(t + half) - speed(t - half)) / SPEED_OVER_S for t in times]
        out.append(float(max(change)))
    return out


def add_turns(rows, timeline):
    """Add each repetition's deceleration at its load-down turn over the set's median to its measures."""
    found = turn_decelerations(timeline)
    usual = float(np.median(found)) if found else float("nan")
    for row, value in zip(rows, found, strict=False):
        row["measures"]["turn_deceleration_ratio"] = round(value / usual, 3)


def set_measures(rows, hips_cm, posture_faults):
    """Measures (dict) of a whole set.

    rows: its repetitions; hips_cm: (time_s, cm forward) at load-down ends; posture_faults: numbers of
    the repetitions with a fault of posture.
    """
    full = [r for r in rows if not r["partial"]]
    out = {}
    if len(full) >= 4:
        durations = np.array([r["end_s"] - r["start_s"] for r in full])
        line = np.polyval(np.polyfit(np.arange(len(full)), durations, 1), np.arange(len(full)))
        sd = np.sqrt(np.sum((durations - line) ** 2) / (len(full) - 2))
        out["tempo_cv_percent"] = 100 * sd / durations.mean()
    if len(rows) >= FEWEST_REPS:
        out["late_range_percent"] = 100 * _late_over_early([r["range_deg"] for r in rows])
    if len(full) >= FEWEST_REPS:
        out["late_tempo_percent"] = 100 * _late_over_early([r["lift_s"] + r["lower_s"] for r in full])
        out["late_posture_reps"] = sum(r["number"] in posture_faults for r in full[-3:])
        times, places = np.array(hips_cm).T
        out["hip_creep_cm"] = np.polyfit(times, places, 1)[0] * (rows[-1]["end_s"] - rows[0]["start_s"])
    return {k: round(float(v), 3) for k, v in out.items()}


def set_faults(exercise, m):
    """Faults of the whole set beyond the project's default limits, as in `faults.faults` with rep None."""
    side = exercise not in ("chest-fly", "reverse-fly")
    tests = [
        ("uneven-tempo", "tempo_cv_percent", "%", lambda v: v > 20),
        ("late-fade", "late_range_percent", "%", lambda v: v < 85),
        ("late-fade-tempo", "late_tempo_percent", "%", lambda v: v < 70),
    ]
    if side:
        tests.append(("late-fade-posture", "late_posture_reps", "reps", lambda v: v >= 2))
        tests.append(("creep", "hip_creep_cm", "cm", lambda v: v > 4))
    return [
        {"check": check, "rep": None, "measure": m[name], "unit": unit}
        for check, name, unit, hit in tests
        if name in m and hit(m[name])
    ]


def _late_over_early(values):
    return float(np.median(values[-3:]) / np.median(values[: len(values) // 2]))
