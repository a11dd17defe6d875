"""Learnt corrections: used where they were learnt, left out where they were not."""

from __future__ import annotations

import numpy as np
import pytest

from shared.exercise import exercise_names, find_exercise
from tests.people import CLIP, landmarks, seated
from vision.analysis import Options
from vision.bind import bind
from vision.correction import FOLDER, LARGEST_DEG, correct, load_correction
from vision.features import track_features
from vision.signals import compute_signals
from vision.track import build_track

TIME = np.arange(300) / 30.0
KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * TIME / 3.0)
LEG = find_exercise("leg-extension")
FILES = sorted(FOLDER.glob("*.npz"))


def track_of(points):
    return build_track(landmarks(points), CLIP, LEG.limbs)


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_every_learnt_file_is_small_whole_and_of_an_exercise(path):
    exercise, view = path.stem.rsplit("-", 1)
    assert exercise in exercise_names()
    correction = load_correction(exercise, view)
    assert path.stat().st_size < 10_000
    assert correction.first.shape[0] == len(correction.mean) == len(correction.spread)
    assert all(np.isfinite(a).all() for a in (correction.first, correction.last, correction.mean))


def test_the_drive_is_corrected_and_the_raw_angle_kept_beside_it():
    track = track_of(seated(KNEE))
    plan = bind(LEG).signals
    corrected = compute_signals(track, plan, LEG)["knee"]
    raw = compute_signals(track, plan, LEG, keep_raw=Options(raw=True).raw)["knee"]
    assert np.array_equal(raw.values, raw.raw)
    assert np.array_equal(corrected.raw, raw.values)
    assert not np.allclose(corrected.values, raw.values)
    assert np.corrcoef(corrected.values, raw.values)[0, 1] > 0.98


def test_a_body_unlike_any_that_was_learnt_keeps_its_raw_angle():
    points = seated(KNEE)
    points[..., 0] = 300.0 + (points[..., 0] - 300.0) * 6.0
    raw = np.full(len(TIME), 100.0)
    values, learnt = correct(track_of(points), "leg-extension", "side", raw)
    assert not learnt
    assert values is raw


def test_an_exercise_without_a_learnt_file_keeps_its_raw_angle():
    raw = np.full(len(TIME), 100.0)
    assert correct(track_of(seated(KNEE)), "arms-overhead-jump", "front", raw) == (raw, False)


def test_a_correction_is_limited():
    raw = np.full(len(TIME), 20.0)
    values, learnt = correct(track_of(seated(KNEE)), "leg-extension", "side", raw)
    assert learnt
    assert np.nanmax(np.abs(values - raw)) <= LARGEST_DEG


def test_mirrored_pictures_give_the_same_features():
    right = build_track(landmarks(seated(KNEE, facing=1), near="right"), CLIP, LEG.limbs)
    left = build_track(landmarks(seated(KNEE, at=(420.0, 640.0), facing=-1), near="left"), CLIP, LEG.limbs)
    assert np.allclose(track_features(right, "leg"), track_features(left, "leg"), atol=0.05)
