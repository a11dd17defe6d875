"""What is learnt of whole sets: which rows of the measurements say how sure what is."""

from __future__ import annotations

from sample_clips.learning.whole_sets import errors


def _row(check: str, measured: float | None, true: float | None) -> dict[str, object]:
    return {"kind": "verdict", "check": check, "measured": measured, "true": true}


def test_each_quantity_is_learnt_from_its_own_rows() -> None:
    rows = [
        {"kind": "duration", "which": "lift_s", "error": 0.1},
        {"kind": "time", "which": "turn_s", "error": 9.0},
        {"kind": "end", "which": "lift", "error": -3.0},
        _row("short-range", 90.0, 95.0),
        _row("short-range", None, 95.0),
        _row("shrug", 90.0, 95.0),
    ]
    assert list(errors(rows)) == [
        ("duration_s", 0.1),
        ("drive_deg", -3.0),
        ("range_percent", -5.0),
    ]
