"""What a joint can do is accepted, what it cannot do is refused with the reason."""

from __future__ import annotations

import numpy as np
import pytest

from vision.judging.plausible import JOINT_RANGE_DEG, implausible


@pytest.mark.parametrize("joint", ["knee", "elbow"])
@pytest.mark.parametrize("value", [30.0, 90.0, 172.0, 180.0, 190.0])
def test_angles_a_person_can_make_are_accepted(joint, value):
    assert implausible(joint, value, 0.0) is None


@pytest.mark.parametrize(
    ("joint", "value"), [("knee", 201.0), ("knee", 12.0), ("elbow", 210.0), ("elbow", 5.0)]
)
def test_angles_no_person_can_make_are_refused_in_words(joint, value):
    reason = implausible(joint, value, 4.0)
    assert reason is not None
    assert joint in reason
    assert f"{value:.0f} degrees" in reason


@pytest.mark.parametrize(("half_width", "refused"), [(2.0, True), (10.0, False)])
def test_an_interval_that_reaches_into_the_range_is_not_refused(half_width, refused):
    _, high = JOINT_RANGE_DEG["knee"]
    low, _ = JOINT_RANGE_DEG["knee"]
    assert (implausible("knee", high + 5.0, half_width) is not None) == refused
    assert (implausible("knee", low - 5.0, half_width) is not None) == refused


@pytest.mark.parametrize("joint", ["hip", "shoulder", None])
def test_a_joint_without_a_range_is_never_refused(joint):
    assert implausible(joint, 260.0, 1.0) is None


def test_an_unknown_value_is_left_to_the_other_rules():
    assert implausible("knee", np.nan, 5.0) is None
    assert implausible("knee", 230.0, np.nan) is None
