"""A limb whose looks lie elsewhere than its own picture moved to is guessed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import RepSet, Track
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from tests.people import CLIP, landmarks, seated
from vision.judging.bind import bind
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.signals.signal import compute_signals
from vision.measuring.track.build import build_track
from vision.measuring.track.straying import strayed_share
from vision.seeing.camera import CameraPath
from vision.seeing.flow import NAMES, LimbFlow

LEG = find_exercise("leg-extension")
KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * np.arange(900) / 30.0 / 3.0)
EVERY = 9  # a look in so many pictures
ENDS = ("left_ankle",)
WILD = 0.5 * (np.arange(900) // EVERY % 2)


@pytest.fixture(scope="module")
def followed() -> tuple[Track, RepSet, LimbFlow]:
    """A set of leg extensions, and how its limbs moved from picture to picture."""
    people = landmarks(seated(KNEE))
    track = build_track(people, CLIP, LEG.limbs)
    assert track is not None
    drive = compute_signals(track, bind(LEG).signals, LEG, keep_raw=True)[LEG.drive.signal]
    reps = find_reps(drive, LEG.drive.lift)
    assert reps is not None
    places = people.image_px[:, 0, [INDEX[name] for name in NAMES], :2]
    steps = np.diff(places, axis=0, prepend=np.full_like(places[:1], np.nan))
    return track, reps, LimbFlow(people.time_s, steps)


def share(followed: tuple[Track, RepSet, LimbFlow], off: np.ndarray, ends: tuple[str, ...] = ENDS) -> float:
    """Of looks whose left ankle is read so many trunk lengths (N,) beside itself."""
    track, reps, flow = followed
    people = landmarks(seated(KNEE))
    people.image_px[:, 0, INDEX["left_ankle"], 0] += off * track.trunk_px
    looks = replace(
        people, **{name: getattr(people, name)[::EVERY] for name in
                   ("frame", "time_s", "image_px", "world_m", "visibility", "presence")}
    )  # fmt: skip
    return strayed_share(looks, flow, None, track=track, reps=reps, ends=ends)


def test_looks_that_go_where_the_flow_leads_have_not_strayed(followed) -> None:
    assert share(followed, np.zeros(900)) == 0.0
    assert share(followed, np.full(900, 0.5)) == 0.0  # read beside itself throughout: it moves alike


@pytest.mark.parametrize(("off", "strayed"), [(0.15, False), (0.25, True)])
def test_a_look_strays_from_a_fifth_of_the_trunk_on(followed, off: float, strayed: bool) -> None:
    every_other = off * (np.arange(900) // EVERY % 2)
    assert (share(followed, every_other) > 0.9) == strayed


def test_the_end_that_is_followed_best_counts(followed) -> None:
    assert share(followed, WILD, ends=("left_ankle", "right_ankle")) == 0.0


def test_what_nobody_followed_has_not_strayed(followed) -> None:
    track, reps, flow = followed
    lost = LimbFlow(flow.time_s, np.full_like(flow.moved_px, np.nan))
    assert share((track, reps, lost), WILD) == 0.0
    assert share(followed, WILD, ends=()) == 0.0
    assert strayed_share(landmarks(seated(KNEE)), None, None, track=track, reps=reps, ends=ENDS) == 0.0


@pytest.mark.parametrize(
    ("first", "strayed"), [(0, True), (300, True), (700, False), (899, False), (900, False)]
)
def test_an_end_that_was_followed_for_less_than_half_of_the_set_does_not_tell(
    followed, first: int, strayed: bool
) -> None:
    """Before the flow begins nobody knows how far the limb went; it did not stay where it was."""
    track, reps, flow = followed
    late = LimbFlow(flow.time_s[first:], flow.moved_px[first:])
    assert (share((track, reps, late), WILD) > 0.9) == strayed
    assert share((track, reps, late), np.zeros(900)) == 0.0


def test_a_phone_that_sways_is_no_limb_that_strays(followed) -> None:
    """The flow leaves the camera's motion out, so the looks have to be put into the room as well."""
    track, reps, flow = followed
    people = landmarks(seated(KNEE))
    sway_px = 0.4 * track.trunk_px * np.sin(2 * np.pi * 1.3 * people.time_s)
    people.image_px[..., 0] += sway_px[:, None, None]
    to_still = np.tile(np.eye(2, 3), (len(sway_px), 1, 1))
    to_still[:, 0, 2] = -sway_px
    camera = CameraPath(people.time_s, to_still)
    known, unknown = (
        strayed_share(people, flow, path, track=track, reps=reps, ends=ENDS) for path in (camera, None)
    )
    assert known == 0.0 and unknown > 0.3
