"""Points read elsewhere for a moment, against points that really moved."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.keypoints import INDEX
from tests.people import landmarks, seated
from tests.stick_sets import knee_motion
from vision.measuring.track.slips import slipped
from vision.measuring.track.two_looks import mean_of_looks

RATE = 10.0
KNEE = knee_motion(reps=5)[::3]
TIME = np.arange(len(KNEE)) / RATE
ANKLE, WRIST, SHOULDER = (INDEX[f"right_{part}"] for part in ("ankle", "wrist", "shoulder"))


def points(knee=KNEE):
    return seated(knee)[..., :2]


@pytest.mark.parametrize("looks", [1, 2, 4])
def test_a_point_that_jumps_away_and_back_slipped_in_between(looks):
    spoilt = points()
    spoilt[60 : 60 + looks, ANKLE] += (90.0, -60.0)
    slips = slipped(spoilt, TIME)
    assert slips[60 : 60 + looks, ANKLE].all()
    slips[60 : 60 + looks] = False
    assert not slips.any()


def test_slips_are_told_where_some_looks_hold_no_trunk():
    spoilt = points()
    spoilt[60:62, ANKLE] += (90.0, -60.0)
    spoilt[100:104, SHOULDER] = np.nan
    assert slipped(spoilt, TIME)[60:62, ANKLE].all()


def test_a_look_in_which_the_whole_trunk_jumps_is_left_out_whole():
    spoilt = points()
    spoilt[60:63] += (80.0, 30.0)
    assert slipped(spoilt, TIME)[60:63].all()


def test_a_whole_person_read_beside_the_seat_for_two_seconds_was_something_else():
    spoilt = points()
    spoilt[60:80] += (70.0, 10.0)
    slips = slipped(spoilt, TIME)
    assert slips[60:80].all()
    slips[60:80] = False
    assert not slips.any()


def test_a_spell_in_which_trunk_and_head_flicker_is_left_out_whole():
    spoilt = points()
    spoilt[60:75] += np.random.default_rng(3).normal(0, 16.0, spoilt[60:75].shape)
    slips = slipped(spoilt, TIME)
    assert slips[60:75].all(axis=1).mean() > 0.9
    assert slips[:58].sum() == slips[77:].sum() == 0


@pytest.mark.parametrize("lift_s", [0.3, 0.6, 1.6])
def test_quick_and_slow_repetitions_hold_no_slip(lift_s):
    knee = knee_motion(reps=6, lift_s=lift_s, hold_s=0.1, lower_s=lift_s, rest_s=0.2)[::3]
    assert not slipped(points(knee), np.arange(len(knee)) / RATE).any()


def test_a_single_dropped_load_is_no_slip():
    slow, dropped = knee_motion(reps=4), knee_motion(reps=1, lower_s=0.4)
    knee = np.concatenate([slow, dropped, slow])[::3]
    assert not slipped(points(knee), np.arange(len(knee)) / RATE).any()


def test_a_bone_far_too_long_was_read_wrongly_at_its_outer_end():
    spoilt = points()
    spoilt[60:80, WRIST] += (0.0, 300.0)
    slips = slipped(spoilt, TIME)
    assert slips[60:80, WRIST].all()
    assert not slips[:, SHOULDER].any()


def test_what_one_look_reads_elsewhere_the_other_tells():
    right = landmarks(seated(KNEE), rate_hz=RATE)
    image = right.image_px.copy()
    image[60:63, 0, ANKLE, :2] += (90.0, -60.0)
    both = mean_of_looks(right, replace(right, image_px=image))
    assert np.allclose(both.image_px, right.image_px)
