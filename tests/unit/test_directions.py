"""Each check's direction: far the one way is the fault, as far the other way is none."""

from __future__ import annotations

import pytest

from tests.check_sets import bump, context, found

FAULTY = 6
#: exercise, check, its signals, their usual value, the fault's way, where in the repetition, the view.
CASES = [
    ("leg-extension", "chest-drop", ("trunk",), -12.0, 30.0, "middle", "side"),
    ("chest-press", "lean-back", ("trunk",), -12.0, -30.0, "middle", "side"),
    ("leg-extension", "hip-slide", ("hips",), 0.0, 0.4, "middle", "side"),
    ("leg-curl", "head-drop", ("head",), 10.0, 60.0, "middle", "side"),
    ("chest-press", "shrug", ("shoulders", "neck"), 0.4, 0.3, "middle", "side"),
    ("lat-pulldown", "hands-push-down", ("hands_below_elbows",), -0.3, 0.8, "middle", "side"),
    ("lat-pulldown", "hands-high", ("hands_over_armpits",), 0.06, 0.8, "middle", "side"),
    ("chest-press", "hands-behind", ("hands_ahead",), 0.5, -0.9, "end", "side"),
    ("reverse-fly", "past-body", ("hands_ahead",), 0.05, -0.9, "middle", "side"),
    ("chest-fly", "elbow-bend", ("elbow",), 160.0, -70.0, "middle", "front"),
    ("chest-fly", "arm-level", ("arm_level",), 5.0, 60.0, "end", "front"),
]


@pytest.mark.parametrize(
    ("exercise", "check", "signals", "usual", "way", "at", "view"), CASES, ids=[c[1] for c in CASES]
)
def test_a_fault_has_one_direction(exercise, check, signals, usual, way, at, view) -> None:
    still = context(exercise, view=view)
    sixth = bump(still.reps, FAULTY, still.track.time_s, at)

    def verdict(moved: float) -> str:
        ctx = context(exercise, dict.fromkeys(signals, usual + moved * sixth), view=view)
        return next(f.verdict for f in found(ctx, check) if f.rep == FAULTY)

    assert (verdict(way), verdict(-way)) == ("flag", "clear")
