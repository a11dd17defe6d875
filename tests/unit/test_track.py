"""Landmarks of stick people -> track: what is mended, bridged, refused."""

from __future__ import annotations

import numpy as np
import pytest

from shared.keypoints import INDEX, MIRRORED
from tests.people import CLIP, landmarks, seated
from vision.measuring.track.build import build_track, mend_swaps

LIMBS = ("shoulder", "hip", "knee", "ankle")
TIME = np.arange(300) / 30.0
KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * TIME / 3.0)


def test_a_side_view_is_recognised_with_its_near_side_and_facing():
    right = build_track(landmarks(seated(KNEE, facing=1), near="right"), CLIP, LIMBS)
    left = build_track(landmarks(seated(KNEE, facing=-1), near="left"), CLIP, LIMBS)
    assert (right.view.name, right.near, right.facing) == ("side-right", "right", 1)
    assert (left.view.name, left.near, left.facing) == ("side-left", "left", -1)
    assert right.trunk_px == pytest.approx(200.0, rel=0.01)


def test_a_few_looks_without_a_trunk_leave_the_view_as_it_is():
    points = seated(KNEE)
    points[50:53, [INDEX["left_hip"], INDEX["right_shoulder"]]] = np.nan
    track = build_track(landmarks(points), CLIP, LIMBS)
    assert (track.view.name, track.near) == ("side-right", "right")


def test_the_user_may_override_the_side():
    track = build_track(landmarks(seated(KNEE)), CLIP, LIMBS, side="left")
    assert track.near == "left"


def test_height_gives_centimetres_from_the_trunk_ratio():
    track = build_track(landmarks(seated(KNEE)), CLIP, LIMBS, height_cm=170.0)
    assert track.cm_per_px == pytest.approx(0.288 * 170.0 / 200.0, rel=0.01)


def test_swapped_legs_are_put_back():
    points = seated(KNEE)
    legs = [
        INDEX[f"{s}_{p}"] for s in ("left", "right") for p in ("hip", "knee", "ankle", "heel", "foot_index")
    ]
    points[:, [i for i in legs if i % 2], 0] -= 90.0
    truth = landmarks(points)
    wrong = points.copy()
    wrong[100:130, legs] = points[100:130, [MIRRORED[i] for i in legs]]
    image, _, _, count = mend_swaps(landmarks(wrong))
    assert count == 30
    assert np.allclose(image, truth.image_px[:, 0, :, :2])


@pytest.mark.parametrize(("frames", "known"), [(11, True), (17, False)])
def test_a_look_that_was_missed_is_bridged_and_two_are_not(frames, known):
    points = seated(KNEE)
    points[100 : 100 + frames] = np.nan
    track = build_track(landmarks(points), CLIP, LIMBS)
    middle = track.xy("right_knee")[100 + frames // 2]
    assert bool(np.isfinite(middle).all()) == known


def test_points_outside_the_picture_or_unseen_become_unknown():
    points = seated(KNEE)
    points[:, INDEX["right_ankle"], 1] += 900.0
    marks = landmarks(points)
    marks.visibility[:, 0, INDEX["right_elbow"]] = 0.1
    track = build_track(marks, CLIP, LIMBS)
    assert np.isnan(track.xy("right_ankle")).all()
    assert np.isnan(track.xy("right_elbow")).all()
    assert np.isfinite(track.xy("right_knee")).all()


def test_a_lone_outlier_leaves_no_trace():
    points = seated(KNEE)
    clean = build_track(landmarks(points), CLIP, LIMBS).xy("right_knee")
    points[150, INDEX["right_knee"], :2] += 80.0
    assert np.abs(build_track(landmarks(points), CLIP, LIMBS).xy("right_knee") - clean).max() < 3.0


def test_too_few_frames_give_no_track():
    assert build_track(landmarks(seated(KNEE[:8])), CLIP, LIMBS) is None


def test_smoothing_has_no_lag():
    track = build_track(landmarks(seated(KNEE)), CLIP, LIMBS)
    ankle = track.xy("right_ankle")[:, 1]
    raw = seated(KNEE)[:, INDEX["right_ankle"], 1]
    best = max(range(-5, 6), key=lambda k: np.corrcoef(ankle[30:-30], np.roll(raw, k)[30:-30])[0, 1])
    assert best == 0
