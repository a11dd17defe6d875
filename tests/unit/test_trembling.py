"""In a picture that trembles a set is told less surely, in proportion, and says so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.domain import RepSet
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.common.notices import TREMBLES
from vision.measuring.reps.by_flow import LimbPath
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.trembling import MOST_TIMES, less_steady, told_unsteady, unsteadiness

DRIVE = drive_signal(SetTruth((RepTruth(1.6, 0.5, 2.0, 0.5),) * 6))


@pytest.fixture(scope="module")
def reps() -> RepSet:
    found = find_reps(DRIVE, "rising")
    assert found is not None
    return found


def _path(tremble: float, scale: float = 1.0) -> LimbPath:
    """A limb that takes one trunk length for a lift, and is read so far off from picture to picture."""
    way = (DRIVE.values - DRIVE.values.min()) / np.ptp(DRIVE.values)
    off = np.random.default_rng(5).normal(0.0, tremble, (len(way), 2))
    return LimbPath(DRIVE.time_s, scale * (np.outer(way, (0.6, -0.4)) + off))


def test_a_limb_that_moves_softly_is_told_as_surely_as_was_learnt(reps: RepSet) -> None:
    assert unsteadiness(_path(0.0), reps) == 1.0
    assert unsteadiness(None, reps) == 1.0


@given(tremble=st.floats(0.0, 0.05), scale=st.floats(0.3, 3.0))
def test_the_more_it_trembles_the_less_sure_whatever_the_limbs_size(tremble: float, scale: float) -> None:
    found = find_reps(DRIVE, "rising")
    assert found is not None
    here = unsteadiness(_path(tremble), found)
    assert 1.0 <= here <= unsteadiness(_path(1.5 * tremble), found) <= MOST_TIMES
    assert unsteadiness(_path(tremble, scale), found) == pytest.approx(here)


def test_it_grows_between_its_bounds(reps: RepSet) -> None:
    assert 1.2 < unsteadiness(_path(0.002), reps) < unsteadiness(_path(0.003), reps) < MOST_TIMES
    assert unsteadiness(_path(0.05), reps) == MOST_TIMES


def test_a_limb_that_sways_where_it_rests_is_unsteady_too(reps: RepSet) -> None:
    """A phone in a hand that moves slowly: nothing trembles, but the load never lies still."""
    still = _path(0.0)
    sway = 0.06 * np.sin(2 * np.pi * 0.9 * still.time_s)
    assert unsteadiness(LimbPath(still.time_s, still.place + sway[:, None]), reps) > 2.0


def test_a_set_without_a_stay_is_told_by_its_tremble_alone() -> None:
    drive = drive_signal(SetTruth((RepTruth(1.6, 0.0, 2.0, 0.0),) * 6))
    found = find_reps(drive, "rising")
    assert found is not None
    way = np.outer((drive.values - drive.values.min()) / np.ptp(drive.values), (0.6, -0.4))
    assert unsteadiness(LimbPath(drive.time_s, way), found) == 1.0


@pytest.mark.parametrize("part", [slice(0, 60), slice(-30, None), slice(300, 600)])
def test_a_limb_that_was_not_followed_throughout_tells_nothing(reps: RepSet, part: slice) -> None:
    path = _path(0.05)
    assert unsteadiness(LimbPath(path.time_s[part], path.place[part]), reps) == 1.0


def test_what_a_limb_does_in_a_long_pause_is_not_its_rest() -> None:
    """A repetition that is left out leaves a gap in which the limb moves on."""
    drive = drive_signal(SetTruth((RepTruth(1.6, 0.0, 2.0, 0.0),) * 6))
    found = find_reps(drive, "rising")
    assert found is not None
    way = np.outer((drive.values - drive.values.min()) / np.ptp(drive.values), (0.6, -0.4))
    gapped = replace(found, reps=(*found.reps[:2], *found.reps[3:]))
    assert unsteadiness(LimbPath(drive.time_s, way), gapped) == 1.0


def test_angles_are_less_sure_by_the_root_of_it(reps: RepSet) -> None:
    sure = replace(DRIVE, clip_half=3.0)
    assert less_steady(sure, replace(reps, unsteady=2.25)).clip_half == pytest.approx(4.5)
    assert less_steady(sure, reps).clip_half == 3.0


def test_it_is_spoken_of_where_it_is_much(reps: RepSet) -> None:
    assert told_unsteady(replace(reps, unsteady=1.9)) == []
    assert told_unsteady(replace(reps, unsteady=2.0)) == [TREMBLES]
