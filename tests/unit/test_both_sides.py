"""A joint seen from the front is the mean of both sides, but for a side that somebody hides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Track
from shared.keypoints import INDEX, Side
from tests.people import CLIP
from tests.unit.test_fold import angles, flying
from vision.common.geometry import included_angle
from vision.measuring.signals.angles import JointParams, joint_angle
from vision.measuring.track.build import build_track

ELBOW = JointParams(joint="elbow")
BEND = 40.0


def seen(misread_share: float, side: Side = "left") -> Track:
    """Somebody from the front, one elbow of whom is read anywhere for that share of the set."""
    people = flying(angles(80.0), BEND)
    rng = np.random.default_rng(7)
    last = round(misread_share * len(people.time_s))
    for part in (f"{side}_elbow", f"{side}_wrist"):
        anywhere = np.cumsum(rng.normal(0.0, 12.0, (last, 2)), axis=0)
        people.image_px[:last, 0, INDEX[part], :2] = (
            people.image_px[:last, 0, INDEX[f"{side}_hip"], :2] + anywhere
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


@pytest.mark.parametrize(("side", "shown"), [("left", "right"), ("right", "left")])
def test_a_hidden_arm_that_is_read_anywhere_is_left_out(side: Side, shown: str) -> None:
    clean, hidden = joint_angle(seen(0.0), ELBOW), joint_angle(seen(0.5, side), ELBOW)
    assert hidden.points == tuple(f"{shown}_{part}" for part in ("shoulder", "elbow", "wrist"))
    known = ~np.isnan(hidden.values)
    np.testing.assert_allclose(hidden.values[known], clean.values[known], atol=3.0)


@pytest.mark.parametrize("known_of_100", [100, 5])
def test_an_arm_that_is_guessed_as_standing_still_is_not_taken_for_the_steadier(known_of_100: int) -> None:
    """Nor is one that is hardly ever known: the mean of both stays."""
    track = seen(0.0)
    still = track.points_px.copy()
    for part in ("left_elbow", "left_wrist"):
        still[:, INDEX[part]] = still[:1, INDEX["left_hip"]] + (40.0 if "wrist" in part else 0.0)
        still[np.arange(len(still)) % 100 >= known_of_100, INDEX[part]] = np.nan
    both = joint_angle(replace(track, points_px=still), ELBOW)
    assert both.points[0] == f"{track.near}_shoulder"
