"""What is learnt of whole sets: which rows of the measurements say how sure what is."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from sample_clips.learning.whole_sets import errors, span_of, write
from vision.measuring.learnt import data as learnt


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


def test_what_was_found_is_written_by_quantity_and_view_and_the_rest_stays(tmp_path: Path) -> None:
    kept = (learnt.FOLDER / "shoulder-press.toml").read_text(encoding="utf-8")
    (tmp_path / "shoulder-press.toml").write_text(kept, encoding="utf-8")
    before = learnt._read(tmp_path / "shoulder-press.toml")
    found = {
        ("range_percent", "side"): [np.array([4.0]), np.array([-5.04])],
        ("drive_deg", "side"): [np.array([9.0])],
        ("drive_deg", "front"): [np.array([3.0]), np.array([-2.0])],
        ("duration_s", "side"): [np.array([0.01])],
        ("duration_s", "front"): [],
        ("drive_span", "side"): [np.array([80.0]), np.array([90.0]), np.array([100.0])],
    }
    write("shoulder-press", found, tmp_path)
    after = learnt._read(tmp_path / "shoulder-press.toml")
    assert (after.range_percent, after.drive_deg) == (5.1, {"side": 9.0, "front": 3.0})
    assert after.drive_span == {"side": (82.0, 98.0)}
    assert after.learnt_on["drive_deg"].startswith("1 and 2 whole sets")
    assert (after.duration_s, after.change) == (before.duration_s, before.change), "it was wider before"


def test_a_sets_range_is_how_far_its_ends_are_told_apart() -> None:
    ends = [("lift", 160.0), ("lift", 158.0), ("lift", 150.0), ("down", 80.0), ("down", 82.0), ("down", 70.0)]
    rows = [{"kind": "end", "which": which, "told": told} for which, told in ends]
    assert span_of(rows) == 78.0
    assert span_of([_row("shrug", 90.0, 95.0)]) is None
