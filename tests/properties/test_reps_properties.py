"""What must not change the count of repetitions."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.synthetic import RepTruth, SetTruth, drive_signal, signal_of
from vision.measuring.reps.find_reps import find_reps

reps = st.builds(
    RepTruth,
    lift_s=st.floats(0.6, 3.0),
    hold_s=st.floats(0.0, 1.0),
    lower_s=st.floats(0.6, 3.0),
    rest_s=st.floats(0.0, 1.5),
)
sets = st.lists(reps, min_size=3, max_size=14).map(lambda r: SetTruth(tuple(r)))


@settings(max_examples=40, deadline=None)
@given(truth=sets, seed=st.integers(0, 1000))
def test_every_full_repetition_is_counted(truth, seed):
    found = find_reps(drive_signal(truth, 0.5, seed), "rising")
    assert found is not None
    assert len(found.full) == len(truth.reps)
    for rep in found.reps:
        assert rep.start_s <= rep.turn_s <= rep.lower_start_s <= rep.end_s


@settings(max_examples=25, deadline=None)
@given(truth=sets, scale=st.floats(0.6, 1.6), offset=st.floats(-30, 30), seed=st.integers(0, 1000))
def test_the_count_survives_scale_offset_and_direction(truth, scale, offset, seed):
    drive = drive_signal(truth, 0.3, seed)
    count = len(find_reps(drive, "rising").full)
    scaled = signal_of(drive.time_s, drive.values * scale + offset)
    falling = signal_of(drive.time_s, 200.0 - drive.values)
    assert len(find_reps(scaled, "rising").full) == count
    assert len(find_reps(falling, "falling").full) == count


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_noise_alone_is_no_set(seed):
    rng = np.random.default_rng(seed)
    time_s = np.arange(0, 30, 1 / 30)
    assert find_reps(signal_of(time_s, 120.0 + rng.normal(0, 3.0, len(time_s))), "rising") is None
