"""A repetition against the first ones of its set: at one place of the drive the wandering cancels."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import RepSet, Signal
from tests.synthetic import RepTruth, SetTruth, drive_signal, signal_of
from vision.judging.course import departure, usual_course
from vision.measuring.reps import find_reps

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
