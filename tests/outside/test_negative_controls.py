"""Recorded motion that is no strength set, put through the repetition finder as drive signals.

Held: the repetition finder and the rule of place; against recorded motion that is no strength set.

Data inside the wheel of aeon 1.6.0 (BSD-3). GunPoint: x of a hand tracked on video, 200 single
gestures of 150 frames (30 a second, from memory), normalised; the hand goes out and comes back once.
BasicMotions: a watch at 10 samples a second for 10 s, four students, 80 recordings: standing,
walking, running, badminton. Its turn rates (radians a second by their size, the file does not say)
are added up to the turn of the wrist about each axis in degrees, drift taken out: 60 drives a class.

Measured with the finder alone: no gesture is a set. Of 60 drives each, standing gives 1 set, walking
29, running 51, badminton 11: walking and running are cyclic, and the finder knows no sport. What
refuses them is that the person does not keep their place; someone who runs on the spot, or on a
treadmill, does, and would be counted.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.signal import detrend

from shared.domain import Signal
from tests.outside.registry import member, wheel
from tests.people import CLIP, landmarks, seated
from tests.synthetic import signal_of
from vision.measuring.measure import stays
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.track.build import RATE_HZ, build_track
from vision.measuring.track.filters import butterworth

LIMBS = ("shoulder", "hip", "knee", "ankle")
#: Real walking and running speeds: 1.2 and 2.7 m/s, with a trunk of half a metre (common practice).
WALKING, RUNNING = 1.2 / 0.5, 2.7 / 0.5


def _series(name: str) -> list[tuple[np.ndarray, str]]:
    """Every recording of a data set, (channels, samples), with its class."""
    found = []
    for part in ("TRAIN", "TEST"):
        path = member(wheel("aeon", "1.6.0"), f"aeon/datasets/data/{name}/{name}_{part}.ts")
        lines = path.read_text(encoding="utf-8").splitlines()
        for line in lines[lines.index("@data") + 1 :]:
            *channels, label = line.split(":")
            found.append((np.array([[float(v) for v in c.split(",")] for c in channels]), label))
    return found


def _drive(degrees: np.ndarray, rate_hz: float) -> Signal:
    """On the track's clock and low-passed like a track."""
    time_s = np.arange(0.0, (len(degrees) - 1) / rate_hz + 1e-9, 1.0 / RATE_HZ)
    values = np.interp(time_s, np.arange(len(degrees)) / rate_hz, degrees)
    return signal_of(time_s, butterworth(values, RATE_HZ, min(6.0, 0.3 * rate_hz)))


@cache
def _wrist_turns(label: str) -> tuple[Signal, ...]:
    """Turn of the wrist about its three axes in every recording of one class."""
    out = []
    for channels, of in _series("BasicMotions"):
        for rate in channels[3:] if of == label else []:
            turn = np.degrees(detrend(np.cumsum(rate - rate.mean()) / 10.0))
            out.append(_drive(90.0 + turn, 10.0))
    return tuple(out)


def _sets(drives: tuple[Signal, ...], keeps_place: np.ndarray | None = None) -> int:
    part = [None if keeps_place is None else keeps_place[: len(d.values)] for d in drives]
    return sum(find_reps(d, "rising", stays=p) is not None for d, p in zip(drives, part, strict=True))


def _passing(speed: float) -> np.ndarray:
    """``stays`` of a person who moves across a very wide picture at ``speed`` trunk lengths a second."""
    trunk = 60.0
    time_s = np.arange(330) / RATE_HZ
    points = seated(140.0 + 30.0 * np.sin(2 * np.pi * time_s), trunk=trunk)
    points[..., 0] += (speed * trunk * time_s)[:, None]
    track = build_track(landmarks(points), replace(CLIP, width=6000), LIMBS)
    assert track is not None
    assert np.isfinite(track.xy("right_hip")).all()
    return stays(track)


@pytest.mark.parametrize("lift", ["rising", "falling"])
@pytest.mark.parametrize("span_deg", [40.0, 90.0, 140.0])
def test_a_single_gesture_of_a_hand_is_no_set(span_deg, lift):
    gestures = _series("GunPoint")
    assert len(gestures) == 200
    for channels, _ in gestures:
        hand = channels[0]
        drive = _drive(40.0 + span_deg * (hand - hand.min()) / np.ptp(hand), 30.0)
        assert find_reps(drive, lift) is None


def test_the_same_gesture_four_times_over_is_found():
    hand = _series("GunPoint")[1][0][0]
    drive = _drive(40.0 + 90.0 * (np.tile(hand, 4) - hand.min()) / np.ptp(hand), 30.0)
    found = find_reps(drive, "rising") or find_reps(drive, "falling")
    assert found is not None
    assert len(found.full) in (3, 4)


def test_standing_about_is_hardly_ever_a_set():
    drives = _wrist_turns("Standing")
    assert len(drives) == 60
    assert _sets(drives) <= 1


@pytest.mark.parametrize(("label", "speed"), [("Walking", WALKING), ("Running", RUNNING)])
def test_walking_and_running_past_are_refused_by_place_alone(label, speed):
    drives = _wrist_turns(label)
    assert _sets(drives) >= 20, "cyclic motion: without its place this test would prove nothing"
    keeps_place = _passing(speed)
    assert not keeps_place[: len(drives[0].values)].any()
    assert _sets(drives, keeps_place) == 0


def test_a_person_who_shifts_in_the_seat_keeps_their_place():
    assert _passing(0.05).mean() > 0.95


def test_badminton_on_the_spot_is_mostly_refused():
    assert _sets(_wrist_turns("Badminton")) <= 15
