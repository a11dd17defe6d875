"""Laws of motion and sets moved by them: exact, in order, and told without leaning on one of them."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.learning.laws import LAWS, SHARES
from sample_clips.learning.sets import exact_set, measured
from sample_clips.learning.warp import MeasuredSet, by_law
from shared.domain import Signal
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.measuring.reps.ends import told_by_limb
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.phase_correction import load_phase_correction
from vision.measuring.reps.phases import Bounds

SET = SetTruth((RepTruth(1.5, 0.4, 2.0, 0.5),) * 6)
DRIVE = drive_signal(SET)
#: Sets by each law, of seeds that learning does not use, and how far their mean may lie from the truth, s.
FIRST_SEED, SETS, BIAS_S = 1000, 8, 0.12
#: What an exponential tail hides: its last twentieth of the speed moves the limb by less than its noise.
TAILED = {("long slow lowering", 3), ("slackening", 1), ("slackening", 2)}


@pytest.mark.parametrize("law", LAWS)
def test_every_law_goes_from_one_end_to_the_other_and_never_back(law: str) -> None:
    rng = np.random.default_rng(3)
    for _ in range(5):
        way = LAWS[law](rng)
        for lift in (True, False):
            share = way(rng, lift)
            assert share.shape == SHARES.shape
            assert share[0] == pytest.approx(0.0, abs=1e-9) and share[-1] == pytest.approx(1.0)
            assert (np.diff(share) >= -1e-12).all()


@pytest.mark.parametrize("law", LAWS)
def test_a_set_moved_by_another_law_keeps_its_ends_and_knows_its_bounds(law: str) -> None:
    plain = MeasuredSet(DRIVE.time_s, DRIVE.values, DRIVE.values[:, None] / 60, SET.bounds())
    moved = by_law(plain, (DRIVE.time_s, DRIVE.values), law, np.random.default_rng(5))
    times = np.ravel(moved.reps)
    assert (np.diff(times) >= 0).all()
    assert moved.drive.min() == pytest.approx(DRIVE.values.min(), abs=1.0)
    assert moved.drive.max() == pytest.approx(DRIVE.values.max(), abs=1.0)
    starts = [np.interp(rep[0], moved.time_s, moved.drive) for rep in moved.reps]
    turns = [np.interp(rep[1], moved.time_s, moved.drive) for rep in moved.reps]
    assert max(starts) < SET.low + 0.06 * SET.range
    assert min(turns) > SET.low + 0.94 * SET.range
    np.testing.assert_allclose(moved.course[:, 0] * 60, moved.drive)


@pytest.mark.parametrize("law", LAWS)
def test_no_law_of_motion_is_told_early_or_late_on_average(law: str) -> None:
    late = np.concatenate([_late(law, FIRST_SEED + k) for k in range(SETS)])
    assert len(late) > 3 * SETS
    for moment, bias in enumerate(late.mean(axis=0)):
        assert abs(bias) < BIAS_S or (law, moment) in TAILED, (moment, bias)


def _late(law: str, seed: int) -> np.ndarray:
    """How much too late (N, 4) the moments of an exact set are told, in s."""
    rng = np.random.default_rng([list(LAWS).index(law), seed])
    exact = exact_set(law, rng)
    time_s, drive, course = measured(exact, rng)
    learnt = load_phase_correction("leg-extension")
    told: list[Bounds] = []

    def correct(bounds: list[Bounds], load: np.ndarray, clock_s: np.ndarray) -> list[Bounds]:
        told.extend(learnt(*told_by_limb(course, load, clock_s, bounds), clock_s))
        return list(bounds)

    find_reps(Signal("drive", "deg", time_s, drive, np.ones(len(drive)), 0.0), "rising", correct=correct)
    pairs = [(one, next((t for t in exact.reps if t[0] <= sum(one) / 4 <= t[3]), None)) for one in told]
    return np.array([np.subtract(one, true) for one, true in pairs if true]).reshape(-1, 4)
