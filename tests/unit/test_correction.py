"""Learnt corrections: used where they were learnt, left out where they were not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.exercise import exercise_names, find_exercise
from tests.people import CLIP, landmarks, seated
from vision.judging.bind import bind
from vision.judging.options import Options
from vision.measuring.learnt.correction import FOLDER, Correction, correct, load_correction
from vision.measuring.learnt.data import load_learnt
from vision.measuring.learnt.features import BY_LENGTHS, family_of, track_features
from vision.measuring.learnt.trees import Trees
from vision.measuring.signals.signal import compute_signals
from vision.measuring.track.build import build_track

TIME = np.arange(300) / 30.0
KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * TIME / 3.0)
LEG = find_exercise("leg-extension")
FILES = sorted(p for p in FOLDER.glob("*.npz") if not p.name.startswith("bounds-"))


def track_of(points):
    return build_track(landmarks(points), CLIP, LEG.limbs)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_learnt_file_is_small_whole_and_of_an_exercise(path):
    exercise, view = path.stem.rsplit("-", 1)
    assert exercise in exercise_names()
    correction = load_correction(exercise, view)
    assert path.stat().st_size < 30_000
    trees = correction.trees
    assert trees.feature.shape == trees.threshold.shape == (len(trees.leaf), 2**trees.depth - 1)
    assert 0 <= trees.feature.min() <= trees.feature.max() < len(correction.low) + BY_LENGTHS
    assert np.isfinite(trees.leaf).all() and (correction.low <= correction.high).all()
    assert 1.0 < correction.half_deg < 45.0


def test_a_tree_goes_left_at_and_under_its_threshold():
    trees = Trees(
        feature=np.array([[0, 1, 1]]),
        threshold=np.array([[0.0, 1.0, 2.0]]),
        leaf=np.array([[1.0, 2.0, 3.0, 4.0]]),
        base=10.0,
    )
    one = Correction(trees, low=np.zeros(2), high=np.ones(2), half_deg=5.0)
    rows = np.array([[0.0, 1.0], [-1.0, 1.5], [0.5, 2.0], [0.5, 2.5], [np.nan, 0.0]])
    assert np.array_equal(trees.predict(rows), [11.0, 12.0, 13.0, 14.0, np.nan], equal_nan=True)
    assert one.outside(np.array([[0.5, 0.5], [0.5, 1.4], [np.nan, 0.5]])).tolist() == [False, True, False]


def test_deeper_trees_ask_level_by_level():
    trees = Trees(
        feature=np.array([[0, 1, 1, 0, 0, 0, 2]]),
        threshold=np.array([[0.0, 0.0, 0.0, -5.0, 0.0, 0.0, 7.0]]),
        leaf=np.arange(8.0)[None],
        base=0.0,
    )
    rows = np.array([[-6.0, -1.0, 0.0], [-1.0, -1.0, 0.0], [1.0, 1.0, 7.0], [1.0, 1.0, 8.0]])
    assert trees.depth == 3 and trees.predict(rows).tolist() == [0.0, 1.0, 6.0, 7.0]


def test_the_lengths_of_a_limb_tell_its_joint_where_it_keeps_to_the_pictures_plane():
    rows = track_features(track_of(seated(KNEE)), "leg", KNEE)
    reach, shares, longest, angle = rows[:, -BY_LENGTHS], rows[:, -7:-4], rows[:, -4:-1], 90.0 * rows[:, -1]
    assert np.allclose(reach, shares[:, 0] * longest[:, 0])
    assert shares.max() <= 1.1
    assert np.abs(angle - KNEE).max() < 6.0, "the thigh and shank of these people keep their lengths"


def test_the_drive_is_corrected_and_the_raw_angle_kept_beside_it():
    track = track_of(seated(KNEE))
    plan = bind(LEG).signals
    corrected = compute_signals(track, plan, LEG)["knee"]
    raw = compute_signals(track, plan, LEG, keep_raw=Options(raw=True).raw)["knee"]
    assert np.array_equal(raw.values, raw.raw)
    assert np.array_equal(corrected.raw, raw.values)
    assert not np.allclose(corrected.values, raw.values)
    assert np.corrcoef(corrected.values, raw.values)[0, 1] > 0.98
    by_itself, whole_sets = load_correction("leg-extension", "side").half_deg, load_learnt("leg-extension")
    assert corrected.clip_half == max(by_itself, whole_sets.drive_deg["side"])


def test_a_body_unlike_any_that_was_learnt_keeps_its_raw_angle():
    points = seated(KNEE)
    points[..., 0] = 300.0 + (points[..., 0] - 300.0) * 6.0
    raw = np.full(len(TIME), 100.0)
    track = build_track(landmarks(points), replace(CLIP, width=6000), LEG.limbs)
    assert not np.isnan(track_features(track, "leg", raw)).any(), "all of it can be seen"
    values, half = correct(track, LEG, "side", raw)
    assert half is None
    assert values is raw


def test_an_exercise_without_a_learnt_file_keeps_its_raw_angle():
    raw = np.full(len(TIME), 100.0)
    own = LEG.model_copy(update={"name": "own-leg-machine"})
    assert correct(track_of(seated(KNEE)), own, "side", raw) == (raw, None)


@pytest.mark.parametrize("name", exercise_names())
def test_the_limb_is_told_by_the_joint_that_counts_whatever_the_exercise_is_called(name):
    own = find_exercise(name).model_copy(update={"name": "own-one"})
    assert family_of(own) == ("leg" if own.thighs_on_seat else "arm")


def test_mirrored_pictures_give_the_same_features():
    right = build_track(landmarks(seated(KNEE, facing=1), near="right"), CLIP, LEG.limbs)
    left = build_track(landmarks(seated(KNEE, at=(420.0, 640.0), facing=-1), near="left"), CLIP, LEG.limbs)
    rows = [track_features(track, "leg", KNEE) for track in (right, left)]
    assert np.allclose(*rows, atol=0.05)
