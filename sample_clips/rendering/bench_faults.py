"""Which repetition of which bench clip has which fault.

Seven clips a part hold four faulty repetitions of eight; the first three
repetitions stay good, since changes are measured from them, and so does the
last, which ends on the stack. Clips from 11 on hold up to six of ten.
"""

from __future__ import annotations

FAULTY_REPS = (4, 5, 6, 7)
QUEUES = {
    "leg-extension": {
        "knee-lockout": 8,
        "chest-drop": 3,
        "lean-back": 3,
        "too-fast": 3,
        "dropped-load": 3,
        "short-range": 3,
        "hip-slide": 2,
        "head-drop": 2,
        "stack-rest": 1,
    },
    "leg-curl": {
        "knee-lockout": 6,
        "short-lift-end": 6,
        "chest-drop": 2,
        "lean-back": 2,
        "too-fast": 2,
        "dropped-load": 2,
        "short-range": 2,
        "hip-slide": 2,
        "head-drop": 2,
        "stack-rest": 2,
    },
    "lat-pulldown": {
        "hands-push-down": 7,
        "lean-back": 5,
        "elbow-lockout": 4,
        "chest-drop": 3,
        "head-level": 3,
        "shrug": 3,
        "feet-moving": 2,
        "too-fast": 1,
    },
    "chest-press": {
        "press-height": 7,
        "elbow-lockout": 5,
        "hands-behind": 5,
        "chest-drop": 3,
        "too-fast": 2,
        "dropped-load": 2,
        "short-range": 2,
        "shrug": 2,
    },
    "chest-fly": {
        "elbow-bend": 7,
        "arm-level": 7,
        "uneven-sides": 6,
        "hands-behind": 4,
        "chest-drop": 2,
        "too-fast": 1,
        "dropped-load": 1,
    },
    "reverse-fly": {
        "past-body": 10,
        "too-fast": 4,
        "dropped-load": 4,
        "short-range": 4,
        "chest-drop": 2,
        "shrug": 2,
        "partial": 2,
    },
    "shoulder-press/side": {
        "lean-back": 8,
        "elbow-lockout": 2,
        "hip-slide": 2,
        "shrug": 1,
        "feet-moving": 1,
        "dropped-load": 1,
        "too-fast": 1,
    },
    "shoulder-press/front": {
        "uneven-sides": 4,
        "elbow-lockout": 4,
        "too-fast": 1,
        "dropped-load": 1,
        "short-range": 2,
    },
}
#: Clips 11 to 13 of a part: faults the queues hold too few of, faults of the whole set, near misses.
EXTRA = {
    "leg-extension": {
        11: ("head-drop", "stack-rest", "head-drop", "stack-rest", "head-drop", "stack-rest"),
        12: ("creep", "rushed-turn", "", "rushed-turn", "", "rushed-turn"),
        13: ("fade-speed", "near-lockout", "near-chest-drop", "near-lean-back", "near-hip-slide"),
    },
    "leg-curl": {
        11: ("stack-rest", "hip-slide", "stack-rest", "hip-slide", "stack-rest", "hip-slide"),
        12: ("fade-range", "rushed-turn", "", "rushed-turn"),
        13: ("creep", "uneven-tempo"),
    },
    "lat-pulldown": {
        11: ("head-level", "feet-moving", "hands-push-down", "head-level", "feet-moving", "shrug"),
        12: ("fade-speed", "feet-moving", "head-level", "rushed-turn"),
        13: ("creep", "uneven-tempo"),
    },
    "chest-press": {
        11: ("press-height", "hip-slide", "hands-behind", "head-drop", "press-height", "hip-slide"),
        12: ("creep", "rushed-turn", "", "rushed-turn", "", "rushed-turn"),
        13: ("fade-range", "near-lockout", "near-chest-drop", "near-lean-back", "near-hip-slide"),
    },
    "chest-fly": {
        11: ("elbow-bend", "arm-level", "elbow-bend", "arm-level", "hands-behind", "uneven-sides"),
        12: ("uneven-tempo",),
        13: ("fade-speed", "near-uneven-sides", "near-arm-level", "near-elbow-bend"),
    },
    "reverse-fly": {
        11: ("shrug", "past-body", "shrug", "past-body", "chest-drop", "short-range"),
        12: ("fade-range", "near-past-body", "near-shrug"),
        13: ("uneven-tempo",),
    },
    "shoulder-press": {
        11: ("feet-moving", "head-drop", "shrug", "feet-moving", "head-drop", "hip-slide"),
        12: ("fade-posture", "near-lockout", "near-shrug", "rushed-turn"),
        13: ("creep", "uneven-tempo"),
    },
}
#: Clips 14 to 18 to tune on, 14 and 15 to validate on: more of what a landmark hardly shows, and near misses;
#: clips 19 to 24 of the flies: what only a side view shows.
HARD = {
    "leg-extension": {
        14: ("chest-drop", "hip-slide", "head-drop", "knee-lockout", "hip-slide", "head-drop"),
        15: ("hip-slide", "near-head-drop", "lean-back", "short-range", "head-drop", "near-hip-slide"),
        16: ("near-chest-drop", "hip-slide", "head-drop", "dropped-load", "chest-drop", "near-hip-slide"),
        17: ("lean-back", "near-head-drop", "hip-slide", "too-fast", "chest-drop", "knee-lockout"),
        18: ("hip-slide", "head-drop", "near-lockout", "near-hip-slide", "chest-drop", "lean-back"),
    },
    "leg-curl": {
        14: ("hip-slide", "head-drop", "chest-drop", "hip-slide", "short-range", "head-drop"),
        15: ("short-range", "near-head-drop", "hip-slide", "lean-back", "near-hip-slide", "knee-lockout"),
        16: ("head-drop", "hip-slide", "near-chest-drop", "short-lift-end", "chest-drop", "near-hip-slide"),
        17: ("near-head-drop", "chest-drop", "hip-slide", "short-range", "too-fast", "lean-back"),
        18: ("hip-slide", "near-lockout", "head-drop", "dropped-load", "near-hip-slide", "short-range"),
    },
    "lat-pulldown": {
        14: ("shrug", "hands-high", "head-level", "hands-push-down", "shrug", "hands-high"),
        15: ("hands-high", "shrug", "near-head-level", "hip-slide", "hands-push-down", "near-shrug"),
        16: ("shrug", "chest-drop", "hands-high", "head-level", "near-hip-slide", "shrug"),
        17: ("hands-push-down", "near-shrug", "hip-slide", "hands-high", "elbow-lockout", "head-level"),
        18: ("lean-back", "shrug", "hands-push-down", "near-head-level", "hands-high", "hip-slide"),
    },
    "chest-press": {
        14: ("shrug", "hip-slide", "head-drop", "short-range", "shrug", "head-drop"),
        15: ("head-drop", "near-shrug", "shrug", "elbow-lockout", "hip-slide", "near-head-drop"),
        16: ("hip-slide", "shrug", "near-head-drop", "chest-drop", "head-drop", "near-shrug"),
        17: ("near-hip-slide", "head-drop", "shrug", "hands-behind", "short-range", "lean-back"),
        18: ("shrug", "near-chest-drop", "hip-slide", "press-height", "head-drop", "elbow-lockout"),
    },
    "chest-fly": {
        14: ("elbow-bend", "uneven-sides", "short-range", "elbow-bend", "near-elbow-bend", "arm-level"),
        15: ("short-range", "elbow-bend", "near-uneven-sides", "arm-level", "elbow-bend", "uneven-sides"),
        16: ("near-elbow-bend", "elbow-bend", "uneven-sides", "short-range", "too-fast", "elbow-bend"),
        17: ("elbow-bend", "near-arm-level", "elbow-bend", "near-elbow-bend", "uneven-sides", "short-range"),
        18: ("uneven-sides", "elbow-bend", "dropped-load", "elbow-bend", "near-uneven-sides", "arm-level"),
        19: ("hands-behind", "chest-drop", "elbow-bend", "hands-behind", "short-range", "too-fast"),
        20: ("short-range", "hands-behind", "near-chest-drop", "elbow-bend", "hands-behind", "chest-drop"),
        21: ("chest-drop", "elbow-bend", "hands-behind", "dropped-load", "short-range", "hands-behind"),
        22: ("hands-behind", "near-chest-drop", "short-range", "hands-behind", "chest-drop", "elbow-bend"),
        23: ("hands-behind", "chest-drop", "short-range", "elbow-bend", "hands-behind", "too-fast"),
        24: ("chest-drop", "hands-behind", "near-chest-drop", "short-range", "hands-behind", "elbow-bend"),
    },
    "reverse-fly": {
        14: ("shrug", "short-range", "near-shrug", "shrug", "too-fast", "short-range"),
        15: ("short-range", "shrug", "dropped-load", "near-shrug", "shrug", "chest-drop"),
        16: ("near-shrug", "shrug", "short-range", "past-body", "shrug", "short-range"),
        17: ("shrug", "chest-drop", "short-range", "shrug", "near-shrug", "too-fast"),
        18: ("short-range", "near-shrug", "shrug", "dropped-load", "short-range", "shrug"),
        19: ("past-body", "chest-drop", "near-past-body", "short-range", "past-body", "shrug"),
        20: ("shrug", "past-body", "near-chest-drop", "too-fast", "past-body", "short-range"),
        21: ("chest-drop", "near-past-body", "past-body", "shrug", "dropped-load", "past-body"),
        22: ("past-body", "short-range", "chest-drop", "past-body", "near-past-body", "shrug"),
        23: ("past-body", "chest-drop", "near-past-body", "short-range", "past-body", "shrug"),
        24: ("shrug", "past-body", "short-range", "chest-drop", "past-body", "near-past-body"),
    },
    "shoulder-press": {
        14: ("head-drop", "shrug", "hip-slide", "head-drop", "shrug", "short-range"),
        15: ("shrug", "near-head-drop", "lean-back", "hip-slide", "head-drop", "near-shrug"),
        16: ("hip-slide", "head-drop", "shrug", "short-range", "near-hip-slide", "elbow-lockout"),
        17: ("near-shrug", "shrug", "head-drop", "hip-slide", "short-range", "feet-moving"),
        18: ("head-drop", "short-range", "shrug", "near-head-drop", "shrug", "hip-slide"),
    },
}
SETWIDE = ("creep", "uneven-tempo", "fade-range", "fade-speed", "fade-posture")
EXTRA_REPS = 10
FAULT_PLACES = {"side": (3, 5, 7, 9), "front": (4, 6, 8)}


def spread(queue):
    """The faults of a queue in an even order: each is spaced over the clips."""
    slots = [
        ((k + 0.5) / count, i, name) for i, (name, count) in enumerate(queue.items()) for k in range(count)
    ]
    return [name for _, _, name in sorted(slots)]


def for_clip(exercise, part, place, view, rng):
    """Settings of the faulty repetitions of one clip: number -> keys of a `rep` table."""
    if place in EXTRA[exercise]:
        return _extra(exercise, place, rng)
    if place in HARD[exercise]:
        names = HARD[exercise][place]
        return {4 + i: hard_settings(name, exercise, rng) for i, name in enumerate(names)}
    if exercise == "shoulder-press":
        kind = "front" if view == "front" else "side"
        names, at = spread(QUEUES[f"{exercise}/{kind}"]), FAULT_PLACES[kind].index(place)
    else:
        names, at = spread(QUEUES[exercise]), place - 3
    names = names[4 * at : 4 * at + 4]
    return {rep: settings(name, exercise, rng) for rep, name in zip(FAULTY_REPS, names, strict=True)}


def _extra(exercise, place, rng):
    """Repetitions of an extra clip: single faults from the fourth on, a fade in the last three."""
    named = [n for n in EXTRA[exercise][place] if n not in SETWIDE]
    reps = {4 + i: extra_settings(n, exercise, rng) for i, n in enumerate(named) if n}
    fade = {
        "fade-range": lambda: {"range_share": round(float(rng.uniform(0.73, 0.78)), 3)},
        "fade-speed": lambda: {"lift_s": 0.85, "lower_s": 0.95},
        "fade-posture": lambda: settings("lean-back", exercise, rng),
    }
    for kind in fade:
        if kind in EXTRA[exercise][place]:
            reps |= {rep: fade[kind]() for rep in range(EXTRA_REPS - 2, EXTRA_REPS + 1)}
    return reps


def of_set(exercise, place, rng):
    """Keys of the `set` table for faults of a whole set."""
    named = EXTRA[exercise].get(place, ()) or HARD[exercise].get(place, ())
    plan = {"reps": EXTRA_REPS} if named else {}
    if "creep" in named:
        plan["hip_creep_cm"] = round(float(rng.uniform(6.0, 8.5)), 1)
    if "uneven-tempo" in named:
        plan["vary"] = 0.45
    return plan


def settings(name, exercise, rng):
    """Keys of a `rep` table that make one fault, at a drawn size beyond its limit."""
    pick = lambda low, high: round(float(rng.uniform(low, high)), 1)  # noqa: E731
    lock = pick(176, 179) if exercise != "leg-extension" else pick(177, 182)
    end = "load_down_end_deg" if exercise in ("leg-curl", "lat-pulldown") else "lift_end_deg"
    back = pick(-15, -11) if exercise == "shoulder-press" else pick(-18, -13)
    return {
        "knee-lockout": {end: lock, "hard_stop": True},
        "elbow-lockout": {end: min(lock, 178.8), "hard_stop": True},
        "chest-drop": {"trunk_pitch_deg": pick(13, 19)},
        "lean-back": {"trunk_pitch_deg": back},
        "too-fast": {"lift_s": pick(0.6, 0.8), "lower_s": pick(0.7, 0.85)},
        "dropped-load": {"lift_s": 2.4, "lower_s": round(float(rng.uniform(1.12, 1.25)), 2)},
        "short-range": {"range_share": round(pick(7.2, 7.6) / 10, 3)},
        "partial": {"range_share": pick(0.45, 0.6)},
        "hip-slide": {"hip_forward_cm": pick(5.5, 8)},
        "head-drop": {"head_pitch_deg": pick(24, 32)},
        "head-level": {"head_pitch_deg": pick(24, 32) * (1 if rng.random() < 0.5 else -1)},
        "stack-rest": {"rest_on_stack": True, "rest_s": pick(1.2, 1.8)},
        "short-lift-end": {"lift_end_deg": pick(103, 106)},
        "hands-push-down": {"hands_down_cm": pick(8.5, 13)},
        "shrug": {"shoulder_raise_cm": pick(4.5, 6)},
        "feet-moving": {"feet_forward_cm": pick(-12, -8)},
        "press-height": {"hands_height_cm": pick(8.5, 12)},
        "hands-behind": {"hands_behind_cm": pick(3, 6)},
        "elbow-bend": {"elbow_deg": pick(112, 134)},
        "arm-level": {"arm_elevation_deg": pick(-32, -22)},
        "uneven-sides": {"uneven_cm": pick(7, 12)},
        "past-body": {"lift_end_deg": pick(104, 112)},
    }[name]


def extra_settings(name, exercise, rng):
    """The same for rushed turns and near misses; any other name is one of `settings`."""
    pick = lambda low, high: round(float(rng.uniform(low, high)), 1)  # noqa: E731
    end = "load_down_end_deg" if exercise in ("leg-curl", "lat-pulldown") else "lift_end_deg"
    found = {
        "rushed-turn": {"rushed_turn": True, "lower_s": round(float(rng.uniform(1.05, 1.25)), 2)},
        "near-lockout": {end: pick(166, 169)},
        "near-chest-drop": {"trunk_pitch_deg": pick(5, 7)},
        "near-lean-back": {"trunk_pitch_deg": pick(-6, -4.5)},
        "near-hip-slide": {"hip_forward_cm": pick(2, 2.8)},
        "near-uneven-sides": {"uneven_cm": pick(2, 3.2)},
        "near-arm-level": {"arm_elevation_deg": pick(-11, -8)},
        "near-elbow-bend": {"elbow_deg": pick(150, 155)},
        "near-past-body": {"lift_end_deg": pick(93, 97)},
        "near-shrug": {"shoulder_raise_cm": pick(1, 1.8)},
    }.get(name)
    return settings(name, exercise, rng) if found is None else found


def hard_settings(name, exercise, rng):
    """The same for what only the hard clips have; any other name is one of `extra_settings`."""
    if name == "hands-high":
        return {"hands_up_cm": round(float(rng.uniform(8, 12)), 1)}
    if name in ("near-head-drop", "near-head-level"):
        sign = -1 if name == "near-head-level" and rng.random() < 0.5 else 1
        return {"head_pitch_deg": sign * round(float(rng.uniform(11, 15)), 1)}
    if name in ("elbows-bend", "near-elbows-bend"):
        low, high = (112, 134) if name == "elbows-bend" else (150, 155)
        return {"elbow_deg": round(float(rng.uniform(low, high)), 1), "hands_in": 1.0}
    return extra_settings(name, exercise, rng)
