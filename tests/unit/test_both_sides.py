"""A joint seen from the front is the mean of both sides, but for a side that somebody hides."""

from __future__ import annotations

import numpy as np

from shared.domain import Track
from shared.keypoints import INDEX
from tests.people import CLIP
from tests.unit.test_fold import angles, flying
from vision.common.geometry import included_angle
from vision.measuring.signals import JointParams, joint_angle
from vision.measuring.track import build_track

ELBOW = JointParams(joint="elbow")
BEND = 40.0


def seen(misread_share: float) -> Track:
    """Somebody from the front, one elbow of whom is read anywhere for that share of the set."""
    people = flying(angles(80.0), BEND)
    rng = np.random.default_rng(7)
    last = round(misread_share * len(people.time_s))
    for part in ("left_elbow", "left_wrist"):
        anywhere = np.cumsum(rng.normal(0.0, 12.0, (last, 2)), axis=0)
        people.image_px[:last, 0, INDEX[part], :2] = (
            people.image_px[:last, 0, INDEX["left_hip"], :2] + anywhere
        )
    track = build_track(people, CLIP, ("shoulder", "elbow", "wrist"))
    assert track is not None
    return track


def test_both_elbows_are_taken_where_both_are_read() -> None:
    track = seen(0.05)
    both = joint_angle(track, ELBOW)
    assert both.points == tuple(f"{track.near}_{part}" for part in ("shoulder", "elbow", "wrist"))
    left, right = (
        included_angle(*(track.xy(f"{side}_{part}") for part in ("shoulder", "elbow", "wrist")))
        for side in ("left", "right")
    )
    np.testing.assert_allclose(both.values, (left + right) / 2.0)


def test_a_hidden_arm_that_is_read_anywhere_is_left_out() -> None:
    clean, hidden = (joint_angle(seen(share), ELBOW) for share in (0.0, 0.5))
    assert hidden.points == ("right_shoulder", "right_elbow", "right_wrist")
    known = ~np.isnan(hidden.values)
    np.testing.assert_allclose(hidden.values[known], clean.values[known], atol=3.0)
