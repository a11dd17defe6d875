"""The moments of a repetition by the limb's own flow: nearer than the looks, not while the camera shakes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.domain import Track
from shared.exercise import exercise_names, find_exercise
from tests.people import CLIP, landmarks, seated
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.measuring.reps.by_flow import Hinge, LimbPath, limb_path, refined
from vision.measuring.reps.phases import Bounds
from vision.measuring.track.build import build_track
from vision.seeing.flow import NAMES, LimbFlow

SET = SetTruth((RepTruth(1.6, 0.5, 2.0, 0.5),) * 6)
DRIVE = drive_signal(SET)
TRUE = np.array(SET.bounds())
KNEE, ELBOW = Hinge(reaches=False, falls=False), Hinge(reaches=True, falls=False)


def _path(hinge: Hinge, shake: float = 0.0) -> LimbPath:
    way = hinge.way(DRIVE.values)
    size = float(np.ptp(way))
    jitter = np.random.default_rng(3).normal(0, shake, (len(way), 2)).cumsum(axis=0)
    return LimbPath(DRIVE.time_s, np.outer(way / size, (0.6, -0.4)) + jitter)


def _looked(seed: int, off_s: float = 0.1) -> list[Bounds]:
    return [tuple(b) for b in TRUE + np.random.default_rng(seed).uniform(-off_s, off_s, TRUE.shape)]


def _off(bounds: list[Bounds]) -> float:
    return float(np.abs(np.array(bounds) - TRUE).max())


@given(st.integers(0, 10_000), st.sampled_from([KNEE, ELBOW]))
@settings(max_examples=25, deadline=None)
def test_moments_that_the_looks_miss_by_a_tenth_are_told_to_a_frame(seed: int, hinge: Hinge) -> None:
    rng = np.random.default_rng(seed)
    load = DRIVE.values + rng.normal(0, 1.5, len(DRIVE.values))
    assert _off(refined(_path(hinge), _looked(seed), load=load, time_s=DRIVE.time_s, hinge=hinge)) < 0.06


def test_a_hand_that_reaches_is_read_by_the_elbows_sine() -> None:
    """Near straight the hand hardly moves: who reads it as if it went with the angle ends the lift early."""
    straight = replace(SET, range=88.0)
    drive, true = drive_signal(straight), np.array(straight.bounds())
    way = ELBOW.way(drive.values)
    path = LimbPath(drive.time_s, np.outer(way / np.ptp(way), (1.0, 0.0)))
    found = [tuple(b) for b in true]

    def turns(hinge: Hinge) -> float:
        told = refined(path, found, load=drive.values, time_s=drive.time_s, hinge=hinge)
        return float(np.abs(np.array(told)[:, 1:3] - true[:, 1:3]).max())

    assert turns(ELBOW) < 0.04 < turns(KNEE)


def test_an_angle_that_rushes_and_then_rests_while_the_hand_goes_on_ends_no_phase_early() -> None:
    """An elbow that turns past the line of sight shows so: the hand is still on its way."""
    low, size = float(DRIVE.values.min()), float(np.ptp(DRIVE.values))
    rushing = low + size / (1 + np.exp(-12 * ((DRIVE.values - low) / size - 0.5)))
    found = [tuple(b) for b in TRUE + np.array([0.15, -0.15, 0.15, -0.15])]
    told = refined(_path(KNEE), found, load=rushing, time_s=DRIVE.time_s, hinge=KNEE)
    assert _off(told) < 0.06


def test_a_turn_that_the_looks_tell_far_too_early_is_moved_and_a_start_is_not() -> None:
    """An elbow may seem straight 0.7 s before the hand is there; a lift does not seem to begin so early."""
    slow = SetTruth((RepTruth(3.0, 0.5, 3.0, 0.5),) * 6)
    drive, true = drive_signal(slow), np.array(slow.bounds())
    path = LimbPath(drive.time_s, np.outer(drive.values / np.ptp(drive.values), (0.6, -0.4)))
    for moment, moved in ((1, True), (0, False)):
        told = true.copy()
        told[2, moment] -= 0.7
        found = refined(path, [tuple(b) for b in told], load=drive.values, time_s=drive.time_s, hinge=KNEE)
        assert bool(abs(found[2][moment] - true[2, moment]) < 0.1) is moved


def test_a_limb_that_seems_to_stop_for_two_pictures_on_its_way_is_still_on_it() -> None:
    path = _path(KNEE)
    place = path.place.copy()
    for _, turn, lower, _ in TRUE:
        for moment in (turn - 0.35, lower + 0.45):
            i = int(np.searchsorted(path.time_s, moment))
            place[i : i + 3] = place[i]
    told = refined(
        LimbPath(path.time_s, place), _looked(4), load=DRIVE.values, time_s=DRIVE.time_s, hinge=KNEE
    )
    assert _off(told) < 0.06


def test_a_lift_that_turns_without_a_stop_ends_where_it_turns() -> None:
    """Thrown into the stop and let go: between two pictures the limb is never seen to rest."""
    starts = 1.0 + 4.0 * np.arange(6)
    corners = np.concatenate([[0.0], *([t, t + 1.51, t + 3.51] for t in starts), [26.0]])
    time_s = np.arange(0.0, 26.0, 1 / 30)
    load = np.interp(time_s, corners, [90.0, *[90.0, 170.0, 90.0] * 6, 90.0])
    found = [(t + 0.1, t + 1.6, t + 1.6, t + 3.4) for t in starts]
    path = LimbPath(time_s, np.outer(load / 80.0, (0.6, -0.4)))
    told = np.array(refined(path, found, load=load, time_s=time_s, hinge=KNEE))
    assert np.abs(told[:, 1:3] - (starts + 1.51)[:, None]).max() < 0.05


def test_while_the_camera_shakes_the_moments_stay_as_the_looks_told_them() -> None:
    found = _looked(1)
    path = _path(KNEE, shake=0.006)
    assert refined(path, found, load=DRIVE.values, time_s=DRIVE.time_s, hinge=KNEE) == found


def test_a_flow_that_does_not_go_with_the_drive_tells_nothing() -> None:
    found = _looked(2)
    rng = np.random.default_rng(2)
    path = LimbPath(DRIVE.time_s, rng.normal(0, 1e-4, (len(DRIVE.time_s), 2)).cumsum(axis=0))
    assert refined(path, found, load=DRIVE.values, time_s=DRIVE.time_s, hinge=KNEE) == found


def test_every_elbows_hand_reaches_and_no_knees_foot_does() -> None:
    hinges = {find_exercise(name).drive_joint: Hinge.of(find_exercise(name)) for name in exercise_names()}
    assert hinges["elbow"].reaches and not hinges["knee"].reaches
    pulled = Hinge.of(find_exercise("lat-pulldown"))
    assert pulled.falls and not Hinge.of(find_exercise("chest-press")).falls


@pytest.mark.parametrize(("falls", "straight_on_top"), [(False, True), (True, False)])
def test_only_a_straight_arms_hand_reaches(falls: bool, straight_on_top: bool) -> None:
    """A press ends straight, a pulldown bent; a bent arm's hand passes by the shoulder."""
    hinge = Hinge(reaches=True, falls=falls)
    assert hinge.at_end(straight_on_top) == hinge
    assert hinge.at_end(not straight_on_top) == Hinge(reaches=False, falls=falls)
    assert KNEE.at_end(True) == KNEE.at_end(False) == KNEE


@pytest.mark.parametrize("falls", [False, True])
@given(angle=st.floats(20.0, 179.0))
def test_a_hinge_gives_back_the_load_whose_way_it_took(falls: bool, angle: float) -> None:
    for reaches in (False, True):
        hinge, load = Hinge(reaches, falls), -angle if falls else angle
        assert hinge.load(hinge.way(np.array([load]))) == pytest.approx([load], abs=1e-4)


@pytest.mark.parametrize("falls", [False, True])
def test_a_reaching_hands_way_grows_with_the_load(falls: bool) -> None:
    load = np.linspace(-170, -60, 20) if falls else np.linspace(60, 170, 20)
    assert (np.diff(Hinge(reaches=True, falls=falls).way(load)) > 0).all()


@pytest.mark.parametrize(
    ("rate_hz", "told"), [(5.0, False), (10.0, False), (12.0, True), (15.0, True), (30.0, True)]
)
def test_too_few_pictures_a_second_tell_nothing_and_break_nothing(rate_hz: float, told: bool) -> None:
    track = build_track(landmarks(seated(DRIVE.values[:120])), CLIP, find_exercise("leg-extension").limbs)
    time_s = np.arange(0.0, 4.0, 1 / rate_hz)
    flow = LimbFlow(time_s, np.full((len(time_s), len(NAMES), 2), 0.5))
    assert track is not None
    assert (limb_path(flow, track, find_exercise("leg-extension")) is not None) is told
    assert limb_path(None, track, find_exercise("leg-extension")) is None
    assert limb_path(flow, track, find_exercise("chest-fly")) is None, "a fly's hands come towards the camera"


LEGS = find_exercise("leg-extension")


def _legs_flow(rate_hz: float, length_s: float = 5.0) -> tuple[Track, LimbFlow]:
    """Seated legs, and the way of every one of their points, in px of the picture."""
    drive = DRIVE.values[DRIVE.time_s < length_s]
    seen = landmarks(seated(drive))
    track = build_track(seen, CLIP, LEGS.limbs)
    assert track is not None
    time_s = np.arange(0.0, track.time_s[-1], 1 / rate_hz)
    steps = np.full((len(time_s), len(NAMES), 2), np.nan)
    for i, name in enumerate(NAMES):
        there = np.column_stack([np.interp(time_s, track.time_s, one) for one in track.xy(name).T])
        steps[1:, i] = np.diff(there, axis=0)
    return track, LimbFlow(time_s, steps)


def _off_the_way(path: LimbPath | None, track: Track) -> float:
    """How far the path lies from the ankle's at most, px, both taken from their first place."""
    assert path is not None
    ankle = track.xy(f"{track.near}_ankle")
    there = np.column_stack([np.interp(path.time_s, track.time_s, one) for one in ankle.T])
    went = path.place[:, :2] * track.trunk_px
    return float(np.abs((went - went[0]) - (there - there[0])).max())


@pytest.mark.parametrize("rate_hz", [12.0, 15.0, 30.0])
def test_a_path_through_few_pictures_is_the_path_that_the_limb_went(rate_hz: float) -> None:
    """Straight from picture to picture it would be off where the limb starts and stops."""
    track, flow = _legs_flow(rate_hz)
    assert _off_the_way(limb_path(flow, track, LEGS), track) < 0.2
