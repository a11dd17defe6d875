"""Repetitions of drives with closed-form truth."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.synthetic import RepTruth, SetTruth, drive_signal, signal_of
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.signals.turning_points import turning_points
from vision.measuring.track.filters import butterworth


def _times(reps):
    return np.array([[r.start_s, r.turn_s, r.lower_start_s, r.end_s] for r in reps])


@pytest.mark.parametrize("scale", [0.2, 0.5, 1.0, 2.0])
def test_boundaries_follow_the_five_percent_rule(scale):
    rep = RepTruth(1.6 * scale, 0.3 * scale, 1.8 * scale, 0.3 * scale)
    truth = SetTruth((rep,) * 8)
    found = find_reps(drive_signal(truth, noise_deg=0.3), "rising")
    assert found is not None
    assert len(found.full) == 8
    error = np.abs(_times(found.reps) - np.array(truth.bounds()))
    assert error.mean() <= 0.10


@pytest.mark.parametrize(("lift_s", "lower_s"), [(0.3, 0.3), (10.0, 10.0)])
def test_very_short_and_very_long_repetitions_are_counted(lift_s, lower_s):
    truth = SetTruth((RepTruth(lift_s, 0.05, lower_s, 0.05),) * 5)
    found = find_reps(drive_signal(truth, noise_deg=0.3), "rising")
    assert found is not None
    assert len(found.full) == 5


def test_partial_repetitions_are_listed_in_time_order_and_not_counted():
    shares = [1, 1, 0.5, 1, 0.75, 1, 0.6]
    truth = SetTruth(tuple(RepTruth(share=s) for s in shares))
    found = find_reps(drive_signal(truth, noise_deg=0.3), "rising")
    assert found is not None
    assert [r.number for r in found.reps] == [1, 2, 3, 4, 5, 6, 7]
    assert [r.partial for r in found.reps] == [False, False, True, False, False, False, True]
    assert found.reps[4].range_share == pytest.approx(0.75, abs=0.03)


def test_a_pause_in_the_middle_belongs_to_the_set():
    reps = [RepTruth()] * 4 + [RepTruth(rest_s=12.0)] + [RepTruth()] * 4
    found = find_reps(drive_signal(SetTruth(tuple(reps)), 0.3), "rising")
    assert found is not None
    assert len(found.full) == 9
    assert found.reps[4].rest_s == pytest.approx(12.0, abs=0.4)
    assert found.reps[-1].rest_s is None


def test_an_empty_seat_before_a_set_costs_no_repetition():
    truth = SetTruth((RepTruth(),) * 6, before_s=12.0)
    drive = drive_signal(truth, noise_deg=0.3)
    values = drive.values.copy()
    come = drive.time_s < 11.5
    values[come] = np.nan
    found = find_reps(signal_of(drive.time_s, values), "rising", stays=~come)
    assert found is not None
    assert len(found.full) == 6


def test_many_quick_twitches_are_not_the_set():
    """Somebody shakes out an arm twelve times, as far as the load goes, and then does eight repetitions."""
    twitch = RepTruth(lift_s=0.15, hold_s=0.0, lower_s=0.15, rest_s=0.02, share=0.9)
    truth = SetTruth((*[twitch] * 11, RepTruth(0.15, 0.0, 0.15, 4.0, 0.9), *[RepTruth()] * 8), low=90.0)
    values = drive_signal(truth, noise_deg=0.3).values.copy()
    time_s = drive_signal(truth, noise_deg=0.3).time_s
    values[time_s < truth.bounds()[12][0] - 1.0] += 40.0
    found = find_reps(signal_of(time_s, values), "rising")
    assert found is not None
    assert len(found.full) == 8
    assert found.start_s == pytest.approx(truth.bounds()[12][0], abs=0.2)


@pytest.mark.parametrize("lower_s", [1.2, 2.4])
def test_what_the_limb_does_in_a_pause_is_no_part_of_a_repetition(lower_s: float) -> None:
    """The load lies down; a second later the hand goes to the face, further than the load ever comes."""
    reps = [RepTruth(lower_s=lower_s)] * 3 + [RepTruth(lower_s=lower_s, rest_s=6.0)]
    truth = SetTruth(tuple(reps + [RepTruth(lower_s=lower_s)] * 3))
    drive = drive_signal(truth, noise_deg=0.3)
    end_s, start_s = truth.bounds()[3][3], truth.bounds()[4][0]
    about = np.clip((drive.time_s - end_s - 1.0) / (start_s - end_s - 2.0), 0.0, 1.0)
    drive = signal_of(drive.time_s, drive.values - 12.0 * np.sin(np.pi * about) ** 2)
    found = find_reps(drive, "rising")
    assert found is not None
    assert found.reps[3].end_s == pytest.approx(end_s, abs=0.2)
    assert found.reps[4].start_s == pytest.approx(start_s, abs=0.2)


@pytest.mark.parametrize("where", [0, 7])
def test_a_first_or_last_repetition_that_goes_much_further_is_not_lost(where: int) -> None:
    shares = [1.0] * 8
    shares[where] = 1.45
    found = find_reps(drive_signal(SetTruth(tuple(RepTruth(share=s) for s in shares)), 0.3), "rising")
    assert found is not None
    assert len(found.full) == 8
    assert found.reps[where].range_share == pytest.approx(1.45, abs=0.05)


@pytest.mark.parametrize("shares", [(1.0,) * 3 + (0.7,) * 6, (0.7,) * 6 + (1.0,) * 3])
def test_fresh_repetitions_of_a_set_that_tires_early_are_all_counted(shares: tuple[float, ...]) -> None:
    """Most of them are shorter, so it is those that are alike."""
    found = find_reps(drive_signal(SetTruth(tuple(RepTruth(share=s) for s in shares)), 0.3), "rising")
    assert found is not None
    assert len(found.full) == len(shares)
    told = np.array([rep.range_share for rep in found.reps])
    np.testing.assert_allclose(told / told.min(), np.array(shares) / 0.7, atol=0.1)


@pytest.mark.parametrize("where", [0, 7])
def test_a_first_or_last_repetition_locked_out_for_a_moment_is_no_reach(
    where: int,
) -> None:
    """It is not long in the upper half of its own range, but as long as any over the set's half way."""
    truth = SetTruth((RepTruth(hold_s=0.2),) * 8)
    drive = drive_signal(truth)
    _, turn, lower, _ = truth.bounds()[where]
    further = 0.6 * truth.range * np.exp(-(((drive.time_s - (turn + lower) / 2) / 0.25) ** 2))
    found = find_reps(signal_of(drive.time_s, drive.values + further), "rising")
    assert found is not None
    assert len(found.full) == 8
    assert found.reps[where].range_share > 1.4


def test_a_handle_taken_and_let_go_from_far_does_not_make_the_usual_range():
    # Elbows: bent further than the press ever bends them before the first, in a pause and after the last.
    far, low, high = 44.0, 84.0, 151.0
    about_the_set = ([150.0, far], [196.0, 61.0], [13.0, 230.0, 60.0, 180.0, 150.0])
    before, between, after = about_the_set
    ends = [*before, high, low, high, low, high, low, *between, high, low, high, *after]
    pieces = [a + (b - a) * (1 - np.cos(np.linspace(0, np.pi, 75))) / 2 for a, b in pairwise(ends)]
    values = np.concatenate(pieces)
    found = find_reps(signal_of(np.arange(len(values)) / 30.0, values), "rising")
    assert found is not None
    assert found.usual_range == pytest.approx(high - low, abs=2.0)
    assert len(found.full) >= 5


def test_getting_in_and_out_is_no_repetition():
    truth = SetTruth((RepTruth(),) * 6, before_s=6.0, after_s=6.0)
    drive = drive_signal(truth, 0.3)
    values, end = drive.values.copy(), drive.time_s[-1]
    getting_in, getting_out = drive.time_s < 4.0, drive.time_s > end - 4.0
    values[getting_in] += 85.0 * np.cos(np.pi * drive.time_s[getting_in] / 2.0) ** 2
    values[getting_out] += 85.0 * np.cos(np.pi * (end - drive.time_s[getting_out]) / 2.0) ** 2
    found = find_reps(signal_of(drive.time_s, values), "rising", stays=~(getting_in | getting_out))
    assert found is not None
    assert len(found.reps) == 6
    assert found.reps[0].start_s == pytest.approx(6.0, abs=0.2)


def test_fidgeting_is_no_set():
    rng = np.random.default_rng(3)
    time_s = np.arange(0, 40, 1 / 30)
    steps = np.repeat(rng.uniform(-8, 8, 80), 15)
    assert find_reps(signal_of(time_s, 95.0 + steps), "rising") is None


def test_walking_past_is_no_set():
    time_s = np.arange(0, 10, 1 / 30)
    knee = 150.0 + 28.0 * np.sin(2 * np.pi * time_s)
    away = np.zeros(len(time_s), dtype=bool)
    assert find_reps(signal_of(time_s, knee), "rising", stays=away) is None


def test_a_sticking_point_stays_inside_its_phase():
    truth = SetTruth((RepTruth(lift_s=2.0),) * 5)
    drive = drive_signal(truth)
    values, starts = drive.values.copy(), [b[0] for b in truth.bounds()]
    stuck_at = starts[2] + 1.0
    i = int(stuck_at * 30)
    stuck = np.concatenate([values[:i], np.full(18, values[i]), values[i:]])
    time_s = np.arange(len(stuck)) / 30.0
    found = find_reps(signal_of(time_s, stuck), "rising")
    assert found is not None
    assert len(found.full) == 5
    assert found.reps[2].lift_s == pytest.approx(found.reps[1].lift_s + 0.6, abs=0.1)


def test_a_members_usual_range_decides_what_is_full():
    truth = SetTruth((RepTruth(),) * 6, range=40.0)
    drive = drive_signal(truth, 0.2)
    assert len(find_reps(drive, "rising").full) == 6
    assert find_reps(drive, "rising", usual_range=80.0) is None


def test_turning_points_of_a_flat_line_are_none():
    assert turning_points(np.zeros(50), 1.0) == []


@pytest.mark.parametrize("depth", [0.15, 0.6])
def test_reaching_for_the_handles_is_no_part_of_the_first_and_last_repetition(depth):
    truth = SetTruth((RepTruth(),) * 6, before_s=4.0, after_s=4.0)
    drive = drive_signal(truth, 0.3)
    values, (start, *_), (*_, end) = drive.values.copy(), truth.bounds()[0], truth.bounds()[-1]
    dip = depth * np.ptp(values)
    for moment in (start - 1.5, end + 1.5):
        near = np.abs(drive.time_s - moment) < 0.5
        values[near] -= dip * np.cos(np.pi * (drive.time_s[near] - moment)) ** 2
    found = find_reps(signal_of(drive.time_s, values), "rising")
    assert found is not None and len(found.full) == 6
    assert found.start_s == pytest.approx(start, abs=0.2)
    assert found.end_s == pytest.approx(end, abs=0.2)
    assert found.reps[0].range_share == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize("quick_s", [1.1, 1.4])
def test_a_quick_last_repetition_of_an_uneven_set_after_which_the_legs_hang_is_counted(quick_s):
    """One that takes as long as another of the set is no reaching, though the limb goes on past the end."""
    quick = RepTruth(quick_s, 0.2, quick_s)
    slow = RepTruth(3.0, 0.2, 4.0)
    drive = drive_signal(truth := SetTruth((slow, quick, slow, slow, slow, quick), after_s=4.0), 0.3)
    *_, end = truth.bounds()[-1]
    hanging = 0.15 * np.ptp(drive.values) * np.clip((drive.time_s - end) / 0.5, 0.0, 1.0)
    found = find_reps(signal_of(drive.time_s, drive.values - hanging), "rising")
    assert found is not None and len(found.full) == 6


@pytest.mark.parametrize("after", [False, True])
def test_two_quick_reaches_beside_a_set_do_not_vouch_for_each_other(after):
    reps = (RepTruth(3.0, 0.2, 3.0),) * 6
    reaches = (RepTruth(0.6, 0.0, 0.6, rest_s=0.3, share=0.8),) * 2
    drive = drive_signal(SetTruth(reps + reaches if after else reaches + reps), 0.3)
    found = find_reps(drive, "rising")
    assert found is not None and len(found.full) == 6


@pytest.mark.parametrize("seed", range(8))
def test_whatever_the_drive_does_no_moment_comes_before_the_one_ahead_of_it(seed):
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, 40, 1 / 30)
    rough = butterworth(rng.normal(size=len(time_s)), 30.0, rng.uniform(0.5, 4.0))
    told = []

    def keep(bounds, load, time_s):
        told.extend(bounds)
        return bounds

    find_reps(signal_of(time_s, 120.0 + 150.0 * rough), "rising", min_range=10.0, correct=keep)
    assert len(told) > 3 and np.diff(np.ravel(told)).min() >= 0.0


def test_a_last_lift_that_never_comes_back_down_is_no_repetition():
    truth = SetTruth((RepTruth(),) * 6, after_s=4.0)
    drive = drive_signal(truth, 0.3)
    *_, end = truth.bounds()[-1]
    rise = np.clip((drive.time_s - end - 0.5) / 1.2, 0.0, 1.0)
    values = drive.values + np.ptp(drive.values) * (rise - 0.45 * np.clip((drive.time_s - end - 2.0), 0, 1))
    found = find_reps(signal_of(drive.time_s, values), "rising")
    assert found is not None and len(found.full) == 6


@pytest.mark.parametrize("shares", [[1.0] * 5 + [0.66] * 5, [1.0, 0.66] * 5, [1.0] * 4 + [0.68] * 4])
def test_many_partial_repetitions_do_not_make_themselves_whole(shares):
    truth = SetTruth(tuple(RepTruth(share=share) for share in shares))
    assert len(find_reps(drive_signal(truth, 0.0), "rising").full) == shares.count(1.0)


def test_a_first_repetition_that_goes_much_further_leaves_the_others_whole():
    truth = SetTruth((RepTruth(share=1.5), *[RepTruth()] * 8))
    assert len(find_reps(drive_signal(truth, 0.0), "rising").full) == 9


@pytest.mark.parametrize("at_s", [0.0, 5.0, 5.01, 60.0])
def test_a_phase_of_no_length_still_has_numbers_that_a_report_can_hold(at_s):
    """Moments that crossed are put upon each other; a report with a gap in it cannot be read back."""
    drive = drive_signal(SetTruth((RepTruth(),) * 6), 0.0)
    found = find_reps(drive, "rising", correct=lambda bounds, load, time_s: [(at_s,) * 4 for _ in bounds])
    for rep in found.reps:
        assert np.isfinite([rep.lift_peak_speed, rep.lower_peak_speed, rep.drive_min, rep.drive_max]).all()


def test_a_repetition_that_nobody_saw_has_the_drive_of_its_ends():
    truth = SetTruth((RepTruth(),) * 6)
    drive, (start, *_, end) = drive_signal(truth, 0.0), truth.bounds()[2]
    unseen = (drive.time_s > start - 0.1) & (drive.time_s < end + 0.1)
    hidden = replace(drive, values=np.where(unseen, np.nan, drive.values))
    there = (start, start, end, end)
    found = find_reps(hidden, "rising", correct=lambda bounds, load, time_s: [there] * len(bounds))
    assert np.isfinite([(rep.drive_min, rep.drive_max) for rep in found.reps]).all()
