"""Truth of whole sets: on rows whose answer is known."""

from __future__ import annotations

import pytest

from sample_clips.rendering.profile import build_timeline
from sample_clips.rendering.set_truth import set_faults, set_measures, turn_decelerations
from sample_clips.rendering.specs import RepSpec


def _rows(ranges, durations):
    rows, at = [], 0.0
    for number, (span, seconds) in enumerate(zip(ranges, durations, strict=True), 1):
        rows.append(
            {"number": number, "partial": False, "range_deg": span, "start_s": at, "end_s": at + 2 * seconds,
             "lift_s": seconds, "lower_s": seconds}
        )  # fmt: skip
        at += 2 * seconds + 0.5
    return rows


def _faults(ranges=(60,) * 10, durations=(1.5,) * 10, creep_cm=0.0, gone=()):
    rows = _rows(ranges, durations)
    span = rows[-1]["end_s"] - rows[0]["start_s"]
    hips = [(r["end_s"], 3.0 + creep_cm * r["end_s"] / span) for r in rows]
    measures = set_measures(rows, hips, set(gone))
    return measures, {f["check"] for f in set_faults("leg-curl", measures)}


def test_a_good_set_has_no_fault():
    measures, faults = _faults()
    assert faults == set()
    assert measures["hip_creep_cm"] == pytest.approx(0.0, abs=1e-6)
    assert measures["late_range_percent"] == measures["late_tempo_percent"] == 100


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"ranges": (60,) * 7 + (45,) * 3}, "late-fade"),
        ({"durations": (1.5,) * 7 + (0.9,) * 3}, "late-fade-tempo"),
        ({"gone": (8, 10)}, "late-fade-posture"),
        ({"creep_cm": 6.0}, "creep"),
        ({"durations": (1.0, 2.0) * 5}, "uneven-tempo"),
    ],
)
def test_a_fault_of_the_set_is_named(change, fault):
    assert fault in _faults(**change)[1]


@pytest.mark.parametrize("change", [{"ranges": (60,) * 9 + (30,)}, {"gone": (2, 9)}, {"creep_cm": 3.0}])
def test_what_is_not_beyond_a_limit_is_no_fault(change):
    assert _faults(**change)[1] == set()


def test_a_bounced_turn_is_harder_than_the_others():
    specs = [
        RepSpec(lift_end_deg=155.0, load_down_end_deg=92.0, rushed_turn=number == 3) for number in range(1, 7)
    ]
    found = turn_decelerations(build_timeline(specs, 1.0, 88.0, 1.0))
    assert len(found) == 5
    assert found[2] > 2 * sorted(found)[2]
