"""Which exact measures are faults, by the project's default limits."""

from __future__ import annotations

SHORT_SHARE = 0.80
LOCKOUT_DEG = 172.0
ARMPIT_BELOW_SHOULDER_CM = 4.0


def faults(exercise, reps, arm_pads=False):
    """Faults beyond the project's default limits: list of {check, rep, measure, unit}."""
    out = []
    for row in reps:
        for check, measure, unit, hit in _tests(exercise, row, row["measures"]):
            if hit and not (arm_pads and check == "elbow-bend"):
                out.append(
                    {"check": check, "rep": row["number"], "measure": round(float(measure), 3), "unit": unit}
                )
    return out


def _tests(exercise, row, m):
    side = exercise not in ("chest-fly", "reverse-fly")
    yield "dropped-load", row["lower_s"], "s", row["lower_s"] < min(0.6 * row["lift_s"], 1.5)
    yield "short-range", m["range_share"], "share", m["range_share"] < SHORT_SHARE
    if exercise in ("leg-extension", "leg-curl"):
        yield "knee-lockout", m["max_knee_deg"], "deg", m["max_knee_deg"] > LOCKOUT_DEG
    elif side:
        yield "elbow-lockout", m["max_elbow_deg"], "deg", m["max_elbow_deg"] > LOCKOUT_DEG
    trunk = m["trunk_pitch_change_deg"]
    yield "chest-drop", trunk, "deg", trunk > 10
    if side:
        yield "lean-back", trunk, "deg", trunk < -_lean_limit(exercise, m)
        yield "hip-slide", m["hip_forward_cm"], "cm", m["hip_forward_cm"] > 4
        yield "head-drop", m["head_pitch_change_deg"], "deg", m["head_pitch_change_deg"] > 20
        yield "stack-rest", m["stack_rest_s"], "s", m["stack_rest_s"] >= 0.5
    if row["partial"]:
        return
    fast = min(row["lift_s"], row["lower_s"])
    yield "too-fast", fast, "s", fast < 1.0
    if m.get("turn_deceleration_ratio", 0) > 2 and row["rest_s"] is not None:
        yield "rushed-turn", row["rest_s"], "s", row["rest_s"] < 0.15
    yield "shrug", m["shoulder_raise_cm"], "cm", m["shoulder_raise_cm"] > 3
    if exercise == "leg-curl":
        yield "short-lift-end", row["drive_lift_end_deg"], "deg", row["drive_lift_end_deg"] > 100
    if exercise == "leg-extension":
        yield "short-load-down-end", row["drive_load_down_deg"], "deg", row["drive_load_down_deg"] > 105
    yield from _arm_tests(exercise, m)


def _lean_limit(exercise, m):
    if exercise != "shoulder-press":
        return 10
    return 4 if m["hip_forward_cm"] > 3 else 7


def _arm_tests(exercise, m):
    if exercise in ("lat-pulldown", "shoulder-press"):
        yield "feet-moving", m["feet_forward_cm"], "cm", abs(m["feet_forward_cm"]) > 4
    if exercise == "lat-pulldown":
        yield "head-level", m["head_pitch_change_deg"], "deg", abs(m["head_pitch_change_deg"]) > 20
        yield "hands-push-down", m["wrist_below_elbow_cm"], "cm", m["wrist_below_elbow_cm"] > 3
        over = m["lowest_wrist_over_shoulder_cm"] + ARMPIT_BELOW_SHOULDER_CM
        yield "hands-high", over, "cm", over > 8
    if exercise == "chest-fly":
        yield "elbow-bend", m["min_elbow_deg"], "deg", m["min_elbow_deg"] < 145
        yield "arm-level", m["max_arm_level_deg"], "deg", m["max_arm_level_deg"] > 15
    if exercise in ("chest-fly", "shoulder-press"):
        yield "uneven-sides", m["uneven_cm"], "cm", m["uneven_cm"] > 5
    if exercise in ("chest-fly", "chest-press"):
        yield "hands-behind", m["hands_behind_cm"], "cm", m["hands_behind_cm"] > 0
    if exercise == "reverse-fly":
        yield "past-body", m["max_arm_horizontal_deg"], "deg", m["max_arm_horizontal_deg"] > 100
    if exercise == "chest-press":
        yield "press-height", m["hands_over_mid_chest_cm"], "cm", abs(m["hands_over_mid_chest_cm"]) > 6
