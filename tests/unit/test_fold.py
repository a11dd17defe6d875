"""Arms that pass the body's plane, seen from the front: one repetition stays one, bent arms reach as far."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.drive import FULL_SHARE
from shared.keypoints import INDEX
from tests.people import CLIP, landmarks
from tests.stick_sets import judge_landmarks
from tests.synthetic import RepTruth, SetTruth
from vision.measuring.signals.arms import ArmParams, arm_horizontal
from vision.measuring.signals.fold import unfolded
from vision.measuring.track.build import build_track

RATE = 30.0
TRUNK = 200.0
#: Over trunk length, by Drillis and Contini: half the shoulders' width, upper arm, forearm.
HALF, UPPER, FORE = 0.36, 0.646, 0.507


def angles(high: float, reps: int = 6, **rep: float) -> np.ndarray:
    """Horizontal angle of the arms of a set of reverse flies that ends at ``high`` degrees."""
    truth = SetTruth((RepTruth(**rep),) * reps, low=10.0, range=high - 10.0)
    return truth.drive(np.arange(0.0, truth.duration_s, 1.0 / RATE))


def flying(angle: np.ndarray, bend_deg: float = 0.0, camera: float = np.inf) -> Landmarks:
    """A stick person seen from the front whose arms point ahead at 0 and to the sides at 90 degrees.

    The elbows are bent by bend_deg in the horizontal plane; the angle is that of shoulder to wrist. camera:
    how many trunk lengths before the shoulders it stands.
    """
    points = np.zeros((len(angle), 33, 3))
    bend = np.radians(bend_deg)
    ahead_of_chord = np.arctan2(FORE * np.sin(bend), UPPER + FORE * np.cos(bend))
    for side, sign in (("left", 1.0), ("right", -1.0)):
        put = {
            "shoulder": (HALF * sign, 0.0, 0.0),
            "hip": (0.25 * sign, 1.0, 0.0),
            "knee": (0.25 * sign, 1.3, -0.8),
        }
        put |= {
            "ankle": (0.25 * sign, 2.0, -0.8),
            "heel": (0.25 * sign, 2.1, -0.8),
            "ear": (0.1 * sign, -0.4, 0.0),
        }
        put |= {"foot_index": (0.25 * sign, 2.1, -1.0), "eye": (0.05 * sign, -0.45, -0.1)}
        for part, place in put.items():
            points[:, INDEX[f"{side}_{part}"]] = place
        out = np.radians(angle) + ahead_of_chord
        upper = UPPER * np.stack([sign * np.sin(out), 0.05 * np.ones(len(out)), -np.cos(out)], axis=1)
        fore = FORE * np.stack([sign * np.sin(out - bend), 0 * out, -np.cos(out - bend)], axis=1)
        points[:, INDEX[f"{side}_elbow"]] = points[:, INDEX[f"{side}_shoulder"]] + upper
        for part in ("wrist", "index", "pinky", "thumb"):
            points[:, INDEX[f"{side}_{part}"]] = points[:, INDEX[f"{side}_elbow"]] + fore
    picture = np.zeros_like(points)
    larger = 1.0 / (1.0 + points[..., 2:] / camera)
    picture[..., :2] = points[..., :2] * larger * TRUNK + np.array([360.0, 400.0])
    people = landmarks(picture)
    people.world_m[:, 0] = points * 0.5
    return people


def drive(people: Landmarks) -> np.ndarray:
    """The drive that the signal reads from a stick person."""
    track = build_track(people, CLIP, ("shoulder", "elbow", "wrist"))
    assert track is not None
    return arm_horizontal(track, ArmParams()).values


@pytest.mark.parametrize("high", [85.0, 100.0, 115.0, 122.0])
@pytest.mark.parametrize("bend", [0.0, 25.0])
def test_arms_past_the_plane_make_one_repetition_not_two(high: float, bend: float) -> None:
    analysis = judge_landmarks(flying(angles(high, lift_s=1.6, hold_s=0.6), bend), "reverse-fly")
    assert analysis.reps is not None
    assert [rep.partial for rep in analysis.reps.reps] == [False] * 6
    assert np.median([rep.lift_s for rep in analysis.reps.reps]) == pytest.approx(1.55, abs=0.25)


def test_a_few_repetitions_past_the_plane_are_no_split_ones_beside_usual_ones() -> None:
    usual, past = (angles(high, reps=3, lift_s=1.6, hold_s=0.6) for high in (80.0, 112.0))
    analysis = judge_landmarks(flying(np.concatenate([usual, past, usual]), camera=5.0), "reverse-fly")
    assert analysis.reps is not None
    assert [rep.partial for rep in analysis.reps.reps] == [False] * 9


def test_arms_that_go_on_behind_the_body_are_read_as_going_on() -> None:
    true = angles(118.0)
    read = drive(flying(true))
    assert read.max() == pytest.approx(118.0, abs=8.0)
    assert np.corrcoef(read, true)[0, 1] > 0.99


def test_arms_that_come_back_a_little_are_not_turned_over() -> None:
    """A short repetition from the wide end, as a chest fly has them: in front all the way."""
    full = 85.0 - 75.0 * np.hanning(90)
    short = 85.0 - 30.0 * np.hanning(60)
    seen = drive(flying(np.concatenate([full, short, full])))
    assert seen[90:150].min() == pytest.approx(55.0, abs=4.0)
    assert seen.max() < 95.0


def test_where_the_lift_ends_wide_a_shallow_dip_is_a_fold_whatever_the_depth_says() -> None:
    angle = 85.0 - np.concatenate([75.0 * np.hanning(90), 20.0 * np.hanning(40), 75.0 * np.hanning(90)])
    nowhere = np.zeros((len(angle), 6))
    assert unfolded(angle, nowhere, True)[90:130].max() == pytest.approx(105.0, abs=1.0)
    np.testing.assert_array_equal(unfolded(angle, nowhere, False), angle)


def test_a_fold_whose_peaks_look_a_little_narrower_than_the_widest_is_one() -> None:
    """Near straight out a tenth of the reach is twenty degrees."""
    usual, out = 13.0 + 75.0 * np.hanning(90), np.linspace(13.0, 74.0, 30)
    folded = np.concatenate([usual, out, 74.0 - 16.0 * np.hanning(40), out[::-1], usual])
    went = unfolded(folded, np.zeros((len(folded), 6)), lifts_wide=True)
    assert went[120:160].max() == pytest.approx(90.0, abs=1.0)


def test_bent_elbows_reach_as_far_as_they_do() -> None:
    straight, bent = (drive(flying(angles(85.0), bend)) for bend in (0.0, 60.0))
    assert bent.max() == pytest.approx(straight.max(), abs=16.0)


@pytest.mark.parametrize("camera", [5.0, 8.0, np.inf])
def test_arms_half_open_before_a_camera_close_by_are_not_taken_for_wide(camera: float) -> None:
    whole, half = angles(86.0, reps=3, lift_s=1.6, hold_s=0.6), angles(50.0, reps=1, lift_s=1.6, hold_s=0.6)
    analysis = judge_landmarks(flying(np.concatenate([whole, half, whole]), camera=camera), "reverse-fly")
    assert analysis.reps is not None
    short = [rep.range_share < FULL_SHARE for rep in analysis.reps.reps]
    assert short == [False] * 3 + [True] + [False] * 3


def test_arms_that_never_open_wide_are_not_told_as_straight_out() -> None:
    track = build_track(flying(angles(45.0)), CLIP, ("shoulder", "elbow", "wrist"))
    assert track is not None
    assert arm_horizontal(track, ArmParams(lifts_wide=True)).values.max() < 65.0


def test_an_angle_that_is_unknown_stays_unknown() -> None:
    angle = drive(flying(angles(85.0)))
    angle[40:80] = np.nan
    out = unfolded(angle, np.zeros((len(angle), 4)), False)
    np.testing.assert_array_equal(np.isnan(out), np.isnan(angle))
    assert np.isnan(unfolded(np.full(50, np.nan), np.zeros((50, 4)), False)).all()


def test_a_whole_set_that_is_seen_small_is_no_fold():
    """Hands that seem to go 28 degrees only, each time to where they are nearest."""
    time_s = np.arange(0.0, 40.0, 1 / RATE)
    other = (time_s // 5.0) % 2
    angle = 38.0 - (14.0 - 0.5 * other) * (1.0 - np.cos(2.0 * np.pi * time_s / 5.0))
    depth = np.column_stack([0.2 * other] * 6)
    assert np.array_equal(unfolded(angle, depth, lifts_wide=False), angle)
