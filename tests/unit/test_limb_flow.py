"""The flow of the limbs in drawn pictures, where every step is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.keypoints import INDEX, KEYPOINTS
from tests.drawn import RATE, DrawnClip
from vision.seeing.flow import NAMES
from vision.seeing.limb_flow import follow_limbs

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


@pytest.mark.parametrize("shake", [lambda t: (0.0, 0.0), _sway], ids=["still", "swaying"])
def test_steps_are_told_to_a_fraction_of_a_pixel_and_without_the_cameras_own(shake) -> None:
    source = DrawnClip(seconds=3.0, shake=shake)
    flow = follow_limbs(source, _subject(source), threads=1, held=shake is _sway)
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
    flow = follow_limbs(source, replace(subject, image_px=points), threads=1)
    late = np.flatnonzero(flow.time_s > 1.7)
    true = -np.diff([source.height(float(t)) for t in flow.time_s])
    assert np.median(np.abs(flow.steps(WRIST)[late, 1] - true[late - 1])) < 0.1


def test_what_no_look_saw_is_not_known_and_threads_change_nothing() -> None:
    source = DrawnClip(seconds=3.0)
    alone, beside = (follow_limbs(source, _subject(source), threads=n) for n in (1, 2))
    assert np.array_equal(alone.moved_px, beside.moved_px, equal_nan=True)
    unseen = [NAMES.index(name) for name in NAMES if name != WRIST]
    assert np.isnan(alone.moved_px[:, unseen]).all()


def test_after_the_last_look_nothing_is_told() -> None:
    source = DrawnClip(seconds=3.0)
    subject = _subject(source)
    gone = subject.image_px.copy()
    gone[8:] = np.nan
    flow = follow_limbs(source, replace(subject, image_px=gone), threads=1)
    assert flow.time_s[-1] <= subject.time_s[7] + 1e-6


def test_nobody_gives_no_flow() -> None:
    source = DrawnClip(seconds=1.0)
    subject = _subject(source)
    nobody = replace(subject, image_px=np.full_like(subject.image_px, np.nan))
    assert len(follow_limbs(source, nobody).time_s) == 0
