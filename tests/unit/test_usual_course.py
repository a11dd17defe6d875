"""A repetition against the first ones of its set: at one place of the drive the wandering cancels."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import RepSet, Signal
from tests.stick_sets import judged, knee_motion
from tests.synthetic import RepTruth, SetTruth, drive_signal, signal_of
from vision.judging.usual_course import departure, restlessness, usual_course
from vision.measuring.reps.find_reps import find_reps

#: A part that wanders by ten centimetres with the drive and does nothing else.
WANDER = 10.0


def _set(truth: SetTruth, lift: str = "rising") -> tuple[Signal, RepSet]:
    drive = drive_signal(truth)
    return drive, find_reps(drive, lift)


def _wandering(drive: Signal, truth: SetTruth) -> np.ndarray:
    return WANDER * (drive.values - truth.low) / truth.range


def _largest(part: Signal) -> float:
    return float(np.nanmax(np.abs(part.values)))


def test_what_wanders_with_the_drive_is_no_departure() -> None:
    truth = SetTruth((RepTruth(), RepTruth(lift_s=2.2), *(RepTruth(),) * 4, RepTruth(lower_s=1.1)))
    drive, reps = _set(truth)
    part = signal_of(drive.time_s, _wandering(drive, truth), "part")
    usual = usual_course(part, drive, reps)
    assert usual is not None
    assert [_largest(departure(part, drive, r, usual)) for r in reps.reps] == pytest.approx([0] * 7, abs=0.4)


def test_a_departure_is_measured_on_its_repetition_alone() -> None:
    truth = SetTruth((RepTruth(),) * 6)
    drive, reps = _set(truth)
    rep = reps.reps[4]
    middle = (rep.turn_s + rep.lower_start_s) / 2
    moved = _wandering(drive, truth) + 5.0 * np.exp(-(((drive.time_s - middle) / 0.5) ** 2))
    part = signal_of(drive.time_s, moved, "part")
    usual = usual_course(part, drive, reps)
    assert usual is not None
    found = [_largest(departure(part, drive, r, usual)) for r in reps.reps]
    assert found[4] == pytest.approx(5.0, abs=0.3)
    assert max(found[:4] + found[5:]) < 0.5


@pytest.mark.parametrize(("lift", "near"), [("rising", "lift-end"), ("falling", "load-down-end")])
def test_only_the_named_end_of_the_drive_counts(lift: str, near: str) -> None:
    """The drive is largest at the lift end of a rising lift and at the load-down end of a falling one."""
    truth = SetTruth((RepTruth(),) * 6)
    drive = drive_signal(truth)
    if lift == "falling":
        drive = signal_of(drive.time_s, 2 * truth.low + truth.range - drive.values)
    reps = find_reps(drive, lift)
    part = signal_of(drive.time_s, np.zeros(len(drive.time_s)), "part")
    usual = usual_course(part, drive, reps)
    assert usual is not None
    places = [np.interp(departure(part, drive, r, usual, near).time_s, drive.time_s, drive.values)
              for r in reps.full]  # fmt: skip
    assert min(p.min() for p in places) >= truth.low + 0.5 * truth.range - 1.0


def test_a_short_gap_in_the_drive_is_bridged_and_a_hidden_part_stays_unknown() -> None:
    truth = SetTruth((RepTruth(),) * 6)
    drive, reps = _set(truth)
    part = signal_of(drive.time_s, _wandering(drive, truth), "part")
    usual = usual_course(part, drive, reps)
    assert usual is not None
    rep = reps.reps[3]
    gap = (drive.time_s > rep.turn_s - 0.4) & (drive.time_s < rep.turn_s - 0.2)
    drive.values[gap] = np.nan
    assert _largest(departure(part, drive, rep, usual)) < 2.0
    part.values[(drive.time_s > rep.start_s) & (drive.time_s < rep.turn_s)] = np.nan
    assert departure(part, drive, rep, usual).missing_share > 0.3


def test_first_repetitions_that_were_hidden_leave_nothing_to_compare_with() -> None:
    truth = SetTruth((RepTruth(),) * 6)
    drive, reps = _set(truth)
    values = _wandering(drive, truth)
    values[drive.time_s < reps.reps[2].start_s] = np.nan
    assert usual_course(signal_of(drive.time_s, values, "part"), drive, reps) is None


def test_what_jumps_from_look_to_look_is_restless_and_what_a_body_does_is_not() -> None:
    time_s = np.arange(0.0, 6.0, 1 / 30)
    leans = signal_of(time_s, 10.0 * np.sin(2 * np.pi * time_s / 3.0))
    looks = np.random.default_rng(1).normal(0.0, 2.0, 30)
    jumps = signal_of(time_s, np.interp(time_s, 0.2 * np.arange(30), looks))
    gone = signal_of(time_s, np.full(len(time_s), np.nan))
    assert restlessness([leans]) < 0.8
    # The median of a normal error's size is 0.67 deviations, that of a jump 1.22 times as much.
    assert restlessness([jumps, jumps]) == pytest.approx(0.67 * 1.22 * 2.0, rel=0.35)
    assert (
        restlessness([gone]) == restlessness([]) == restlessness([signal_of(time_s[:1], time_s[:1])]) == 0.0
    )


def test_a_picture_that_tells_every_look_otherwise_makes_a_set_less_sure() -> None:
    knee = knee_motion(6, lift_s=1.5, lower_s=2.0)
    looks = np.random.default_rng(2).normal(0.0, 1.2, len(knee) // 6 + 2)
    noise = np.interp(np.arange(len(knee)), 6 * np.arange(len(looks)), looks)

    def half(lean: np.ndarray) -> float:
        found = judged(knee, lean=lean).report.findings
        return max(f.uncertainty for f in found if f.check == "chest-drop" and f.uncertainty is not None)

    assert half(-8.0 + noise) > 1.3 * half(np.full(len(knee), -8.0))


def test_what_is_done_beyond_the_usual_range_is_not_told() -> None:
    """A knee goes a third further than in the others, and a part moves only there."""
    truth = SetTruth((RepTruth(),) * 4 + (RepTruth(share=1.33),))
    drive, reps = _set(truth)
    beyond = drive.values > truth.low + 1.2 * truth.range
    middle = (reps.reps[4].start_s + reps.reps[4].turn_s) / 2
    inside = 5.0 * np.exp(-(((drive.time_s - middle) / 0.3) ** 2))
    part = signal_of(drive.time_s, np.where(beyond, 20.0, inside), "part")
    usual = usual_course(part, drive, reps)
    assert usual is not None and beyond.any()
    told = departure(part, drive, reps.reps[4], usual)
    assert _largest(told) == pytest.approx(5.0, abs=0.5)
    assert told.missing_share < 0.1
