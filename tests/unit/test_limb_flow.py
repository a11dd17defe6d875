"""The flow of the limbs in drawn pictures, where every step is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.keypoints import INDEX, KEYPOINTS
from tests.drawn import RATE, DrawnClip
from vision.common.poses import torso
from vision.seeing.flow import NAMES, LimbFlow
from vision.seeing.gray import STEP_S
from vision.seeing.limb_flow import LimbMeter
from vision.seeing.subject import Subject

WRIST = "left_wrist"


def _sway(t: float) -> tuple[float, float]:
    return 3.0 * np.sin(2.0 * t), 2.0 * np.sin(3.1 * t)


def _subject(source: DrawnClip, every: int = 6) -> Landmarks:
    """Five looks a second at someone whose wrist goes with the plate, and whose trunk stays beside it."""
    frames = np.arange(0, int(source.seconds * RATE), every)
    time_s = frames / RATE
    points = np.full((len(frames), 1, len(KEYPOINTS), 3), np.nan)
    for side, x in (("left", 60.0), ("right", 75.0)):
        for part, y in (("shoulder", 180.0), ("hip", 300.0)):
            points[:, 0, INDEX[f"{side}_{part}"]] = (x, y, 0.0)
    wrist = np.array([source.place(float(t)) for t in time_s])
    points[:, 0, INDEX[WRIST], :2], points[:, 0, INDEX[WRIST], 2] = wrist + 1.5, 0.0
    known = np.where(np.isnan(points[..., 0]), 0.0, 1.0)
    return Landmarks(frames, time_s, points, np.nan_to_num(points) * 0.004, known, known, model="drawn")


def _surveyed(looks: Landmarks) -> Subject:
    poses = looks.image_px[:2, 0, :, :2]
    return Subject(looks.time_s[:2], poses, *torso(poses), box=(0, 0, 1, 1), near=())


def _flow(
    source: DrawnClip, looks: Landmarks, held: bool = False, truly: Landmarks | None = None
) -> LimbFlow:
    """The flow of a clip looked at five times a second; truly: the subject's own."""
    poses = looks.image_px[:, 0, :, :2]
    meter = LimbMeter(source.clip, _surveyed(looks))
    walk = meter.walk()
    for row, frame in enumerate(walk.looks(source.with_gray(0.0, None, 5.5 / RATE, STEP_S))):
        assert frame.index == looks.frame[row]
        walk.found(frame, None if np.isnan(poses[row]).all() else poses[row])
    return meter.flow(looks if truly is None else truly, held)


HELD = {"swaying": {"shake": _sway}, "rolling": {"roll": lambda t: 4.0 * np.sin(3.0 * t)}}
STANDING = {
    "still": {},
    "the light pulses": {"light": lambda t: 0.75 + 0.25 * np.sin(40.0 * t)},
}


@pytest.mark.parametrize(("name", "how"), [*STANDING.items(), *HELD.items()])
def test_steps_are_told_to_a_fraction_of_a_pixel_and_without_the_cameras_own(name, how) -> None:
    source = DrawnClip(seconds=3.0, **how)
    flow = _flow(source, _subject(source), held=name in HELD)
    steps = flow.steps(WRIST)[1:, 1]
    true = -np.diff([source.height(float(t)) for t in flow.time_s])
    known = np.isfinite(steps)
    assert known.mean() > 0.9
    assert np.median(np.abs(steps - true)[known]) < 0.1


def test_every_look_begins_anew() -> None:
    """Looks that sit on the plate from the second half on find its steps, wherever the first ones were."""
    source = DrawnClip(seconds=3.0)
    subject = _subject(source)
    points = subject.image_px.copy()
    points[:8, 0, INDEX[WRIST], :2] = (300.0, 60.0)
    flow = _flow(source, replace(subject, image_px=points))
    late = np.flatnonzero(flow.time_s > 1.7)
    true = -np.diff([source.height(float(t)) for t in flow.time_s])
    assert np.median(np.abs(flow.steps(WRIST)[late, 1] - true[late - 1])) < 0.1


def test_every_picture_is_told_once_and_what_no_look_saw_is_not_known() -> None:
    source = DrawnClip(seconds=3.0)
    flow = _flow(source, _subject(source))
    assert np.allclose(flow.time_s, np.arange(85) / RATE)
    unseen = [NAMES.index(name) for name in NAMES if name != WRIST]
    assert np.isnan(flow.moved_px[:, unseen]).all()


@pytest.mark.parametrize("somebody_elses", [False, True])
def test_from_a_look_at_nobody_or_somebody_else_on_nothing_is_told(somebody_elses: bool) -> None:
    source = DrawnClip(seconds=3.0)
    subject = _subject(source)
    gone = subject.image_px.copy()
    gone[8:12] = np.nan
    without = replace(subject, image_px=gone)
    flow = _flow(source, subject if somebody_elses else without, truly=without)
    told = np.isfinite(flow.steps(WRIST)[:, 0])
    inside = (flow.time_s > subject.time_s[8] + 1e-6) & (flow.time_s <= subject.time_s[12] + 1e-6)
    assert inside.sum() > 10 and not told[inside].any()
    assert told[(flow.time_s > 0) & ~inside].mean() > 0.9


def test_nobody_gives_no_flow() -> None:
    source = DrawnClip(seconds=1.0)
    subject = _subject(source)
    nobody = replace(subject, image_px=np.full_like(subject.image_px, np.nan))
    assert len(_flow(source, subject, truly=nobody).time_s) == 0


def test_flow_is_told_from_the_first_look_at_the_subject_to_the_last() -> None:
    """Who comes late and leaves early is followed as surely as somebody who is there throughout."""
    source = DrawnClip(seconds=3.0)
    subject = _subject(source)
    there = subject.image_px.copy()
    there[:5] = there[11:] = np.nan
    flow = _flow(source, subject, truly=replace(subject, image_px=there))
    assert flow.time_s[[0, -1]] == pytest.approx(subject.time_s[[5, 10]])
    assert np.isfinite(flow.steps(WRIST)[1:]).all(axis=1).mean() > 0.9


@pytest.mark.parametrize("body", ["a wall without a corner", "a body that fills the picture"])
def test_a_picture_without_a_corner_of_the_room_is_followed_all_the_same(body: str) -> None:
    source = DrawnClip(seconds=1.0)
    if body.startswith("a wall"):
        source.room = np.full_like(source.room, 90)
    subject = _subject(source)
    if body.startswith("a body"):
        subject.image_px[:, 0, INDEX["nose"]] = (0.0, 0.0, 0.0)
        subject.image_px[:, 0, INDEX["left_heel"]] = (359.0, 479.0, 0.0)
    for held in (False, True):
        assert np.isfinite(_flow(source, subject, held=held).steps(WRIST)[1:]).all(axis=1).mean() > 0.8


def _in_two_streams(source: DrawnClip, second_s: float, step_s: float) -> LimbFlow:
    """The flow of a clip read from its beginning to 1.6 s and from a moment before that to its end."""
    looks = _subject(source)
    meter = LimbMeter(source.clip, _surveyed(looks))
    for start_s, end_s in ((second_s, None), (0.0, 1.6)):
        walk = meter.walk()
        for frame in walk.looks(source.with_gray(start_s, end_s, 5.5 / RATE, step_s)):
            walk.found(frame, looks.image_px[frame.index // 6, 0, :, :2])
    return meter.flow(looks, held=False)


def test_a_step_over_the_seam_is_told_from_the_picture_before_or_not_at_all() -> None:
    """Of two streams that take every other picture the second takes those that the first left out."""
    source = DrawnClip(seconds=3.0)
    flow = _in_two_streams(source, second_s=31 / RATE, step_s=1.5 / RATE)
    steps, true = flow.steps(WRIST)[1:, 1], -np.diff([source.height(float(t)) for t in flow.time_s])
    assert np.diff(flow.time_s).min() < 1.1 / RATE < np.diff(flow.time_s).max()
    assert np.isfinite(steps).mean() > 0.9
    assert np.nanmax(np.abs(steps - true)) < 0.5


def test_two_streams_that_overlap_are_one_walk() -> None:
    source = DrawnClip(seconds=3.0)
    flow = _in_two_streams(source, second_s=1.0, step_s=STEP_S)
    assert np.allclose(flow.time_s, np.arange(85) / RATE)
    true = -np.diff([source.height(float(t)) for t in flow.time_s])
    off = np.abs(flow.steps(WRIST)[1:, 1] - true)
    assert np.isfinite(off).mean() > 0.95
    assert np.nanmedian(off) < 0.1
