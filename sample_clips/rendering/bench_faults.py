"""Which repetition of which bench clip has which fault.

Seven clips a part hold four faulty repetitions of eight; the first three
repetitions stay good, since changes are measured from them, and so does the
last, which ends on the stack.
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
FAULT_PLACES = {"side": (3, 5, 7, 9), "front": (4, 6, 8)}


def spread(queue):
    """The faults of a queue in an even order: each is spaced over the clips."""
    slots = [
        ((k + 0.5) / count, i, name) for i, (name, count) in enumerate(queue.items()) for k in range(count)
    ]
    return [name for _, _, name in sorted(slots)]


def for_clip(exercise, part, place, view, rng):
    """Settings of the faulty repetitions of one clip: number -> keys of a `rep` table."""
    if exercise == "shoulder-press":
        kind = "front" if view == "front" else "side"
        names, at = spread(QUEUES[f"{exercise}/{kind}"]), FAULT_PLACES[kind].index(place)
    else:
        names, at = spread(QUEUES[exercise]), place - 3
    names = names[4 * at : 4 * at + 4]
    return {rep: settings(name, exercise, rng) for rep, name in zip(FAULTY_REPS, names, strict=True)}


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
