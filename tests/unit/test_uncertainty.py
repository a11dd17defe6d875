"""How far a value may be off: what moves from moment to moment, and what the whole clip shares."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Track
from shared.exercise import exercise_names, find_exercise
from shared.keypoints import INDEX
from tests.people import CLIP, landmarks, seated
from vision.measuring.learnt.correction import load_correction
from vision.measuring.learnt.data import load_learnt
from vision.measuring.learnt.uncertainty import change_half_width, moment_half_width, phase_half, smallness
from vision.measuring.track.build import build_track

#: Jitter of a point in px, and half-width of a 90 % interval over a standard deviation.
JITTER_PX, Z90 = 3.0, 1.645
SHANK = ("right_knee", "right_ankle")


@pytest.fixture(scope="module")
def track() -> Track:
    """A still person: trunk of 200 px, shank of 170 px, ankles that jitter."""
    built = build_track(landmarks(seated(np.full(90, 120.0))), CLIP, ("hip", "knee", "ankle"))
    jitter = np.zeros(33)
    jitter[[INDEX["left_ankle"], INDEX["right_ankle"]]] = JITTER_PX
    return replace(built, jitter_px=jitter)


def test_noise_is_the_jitter_of_the_shakiest_point_in_the_signals_unit(track: Track) -> None:
    in_cm = replace(track, cm_per_px=0.25)
    assert moment_half_width(track, SHANK, "trunk_fraction") == pytest.approx(
        Z90 * JITTER_PX / 200.0, rel=0.02
    )
    assert moment_half_width(in_cm, SHANK, "cm") == pytest.approx(Z90 * JITTER_PX * 0.25)
    turned = np.degrees(2.0**0.5 * JITTER_PX / 170.0)
    assert moment_half_width(track, SHANK, "deg") == pytest.approx(Z90 * turned, rel=0.02)


def test_a_change_within_a_set_is_surer_than_a_value_but_never_sure(track: Track) -> None:
    in_cm = replace(track, cm_per_px=0.25)
    assert change_half_width("deg", track) == pytest.approx(4.0)
    assert change_half_width("trunk_fraction", track) == pytest.approx(0.03)
    assert change_half_width("cm", in_cm) == pytest.approx(0.03 * 200.0 * 0.25, rel=0.02)


def test_somebody_small_in_the_picture_is_timed_less_surely(track: Track) -> None:
    near, small = replace(track, trunk_px=220.0), replace(track, trunk_px=55.0)
    assert (smallness(near), smallness(small)) == (1.0, 2.0)
    assert phase_half(small)(0.2) == pytest.approx(2.0 * phase_half(near)(0.2))


@pytest.mark.parametrize("name", exercise_names())
def test_a_raw_angle_is_never_told_surer_than_a_corrected_one(name: str) -> None:
    """Both were measured on the same clips, and the correction was learnt to leave less."""
    corrected, exercise = load_correction(name, "side"), find_exercise(name)
    joint = exercise.signals[exercise.drive.signal].params.get("joint")
    assert corrected is None or load_learnt(name).joint_deg[joint] > corrected.half_deg
