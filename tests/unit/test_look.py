"""Looking at a clip in two halves: the same with any number of threads, nothing twice, nothing left out."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import pytest

from shared.domain import Clip, Floats, Frame, Landmarks
from tests.drawn import DrawnClip
from tests.people import landmarks, seated
from vision.common.seams import Box, Found
from vision.seeing.look import LANDMARK_STEP_S, SHORT_S, WARM_UP_S, look, look_again
from vision.seeing.subject import SURVEY_STEP_S

SIZE = (720, 1280)


@dataclass
class GreySource:
    """Grey pictures at a steady rate."""

    seconds: float
    rate: float = 30.0

    @property
    def clip(self) -> Clip:
        return Clip("grey.mp4", self.seconds, int(self.seconds * self.rate), self.rate, *SIZE, 0)

    def frames(
        self, start_s: float = 0.0, end_s: float | None = None, min_step_s: float = 0.0
    ) -> Iterator[Frame]:
        last = -np.inf
        for i in range(int(self.seconds * self.rate)):
            t = i / self.rate
            if t < start_s - 1e-6 or (end_s is not None and t > end_s + 1e-6) or t - last < min_step_s - 5e-4:
                continue
            last = t
            yield Frame(i, t, np.full((SIZE[1], SIZE[0], 3), 90, np.uint8))


@dataclass
class SteadyPose:
    """Finds one seated person in every picture; fails in pictures later than ``broken_s``."""

    name: str = "steady"
    broken_s: float = np.inf
    seen: list[float] = field(default_factory=list)

    def survey(self, frames: Iterable[Frame], people: int) -> Landmarks:
        return self._found(frames)

    def follow(
        self, frames: Iterable[Frame], box: Box, mirrored: bool = False, found: Found | None = None
    ) -> Landmarks:
        return self._found(frames, found)

    def _found(self, frames: Iterable[Frame], told: Found | None = None) -> Landmarks:
        time_s, index = [], []
        for frame in frames:
            self.seen.append(frame.time_s)
            if told is not None:
                shown = landmarks(seated(np.full(1, 100.0))).image_px[0, 0, :, :2]
                told(frame, shown / SIZE * frame.image.shape[1::-1])
            if frame.time_s > self.broken_s:
                raise ValueError("broken")
            time_s.append(frame.time_s)
            index.append(frame.index)
        times = np.array(time_s)
        found = landmarks(seated(100 + 40 * np.sin(times)))
        return Landmarks(
            np.array(index), times, found.image_px, found.world_m, found.visibility, found.presence, "steady"
        )


@pytest.mark.parametrize("seconds", [SHORT_S / 2, SHORT_S + 0.02, 24.0])
def test_any_number_of_threads_sees_the_same(seconds: float) -> None:
    one, two = (look(GreySource(seconds), SteadyPose(), threads=n) for n in (1, 2))
    for a, b in ((one.survey, two.survey), (one.dense, two.dense)):
        assert a is not None
        assert b is not None
        np.testing.assert_array_equal(a.time_s, b.time_s)
        np.testing.assert_array_equal(a.image_px, b.image_px)


@pytest.mark.parametrize("seconds", [20.0, 20.2, 20.3])
@pytest.mark.parametrize("rate", [24.0, 30.0, 59.94])
def test_the_halves_meet_without_a_gap_and_without_a_moment_twice(rate: float, seconds: float) -> None:
    seen = look(GreySource(seconds, rate), SteadyPose())
    assert seen.dense is not None
    for view, step in ((seen.survey, SURVEY_STEP_S), (seen.dense, LANDMARK_STEP_S - 0.5 / rate)):
        between = np.diff(view.time_s)
        assert between.min() > 0
        assert between.max() < step + 1.01 / rate
        assert view.time_s[0] == 0
        assert view.time_s[-1] > (seen.clip.frames - 1.01) / rate - step


@pytest.mark.parametrize("rate", [24.0, 30.0, 59.94])
def test_a_second_look_is_taken_midway_between_two_of_the_first(rate: float) -> None:
    source, pose = GreySource(24.0, rate), SteadyPose()
    seen = look(source, pose)
    assert seen.dense is not None
    before = seen.dense.time_s
    again = look_again(source, pose, seen).time_s[:-1]
    since = again - before[np.searchsorted(before, again, side="right") - 1]
    assert np.abs(since - LANDMARK_STEP_S / 2).max() < 1.6 / rate


def test_the_second_half_begins_early_to_find_the_person() -> None:
    pose = SteadyPose()
    look(GreySource(20.0), pose)
    early = [t for t in pose.seen if 10.0 - WARM_UP_S - 1e-6 < t < 10.0]
    assert len(early) > len(set(early)), "looked at by both halves"


@pytest.mark.parametrize("threads", [1, 2])
def test_progress_rises_and_is_told_by_the_caller_alone(threads: int) -> None:
    told: list[tuple[float, int]] = []
    look(
        GreySource(20.0), SteadyPose(),
        progress=lambda share: told.append((share, threading.get_ident())), threads=threads,
    )  # fmt: skip
    shares = [share for share, _ in told]
    assert {who for _, who in told} == {threading.get_ident()}
    assert max(shares) == pytest.approx(0.97, abs=0.02)
    falls = [a - b for a, b in itertools.pairwise(shares) if b < a]
    assert max(falls, default=0.0) < 0.06, "the warm-up of the second half at most"


@pytest.mark.parametrize("broken_s", [2.0, 15.0])
def test_what_fails_in_either_half_is_told(broken_s: float) -> None:
    with pytest.raises(ValueError, match="broken"):
        look(GreySource(20.0), SteadyPose(broken_s=broken_s))


@dataclass
class AskedPose(SteadyPose):
    """Tells of each close look whether it was at mirrored pictures."""

    mirrored: list[bool] = field(default_factory=list)

    def follow(
        self, frames: Iterable[Frame], box: Box, mirrored: bool = False, found: Found | None = None
    ) -> Landmarks:
        self.mirrored.append(mirrored)
        return super().follow(frames, box, mirrored, found)


def test_the_second_look_is_at_mirrored_pictures() -> None:
    source, pose = GreySource(SHORT_S / 2), AskedPose()
    seen = look(source, pose)
    assert pose.mirrored == [False]
    look_again(source, pose, seen)
    assert pose.mirrored == [False, True]


def test_pictures_for_light_and_focus_stay_few_in_a_long_clip() -> None:
    from vision.seeing.light import MOST_THUMBS, PictureMeter

    source = GreySource(600.0, 0.5)
    meter = PictureMeter.for_clip(source.clip)
    assert sum(1 for _ in meter.tap(source.frames())) == 300
    assert 0.9 * MOST_THUMBS < len(meter.thumbs) <= MOST_THUMBS


@dataclass
class StillPose(SteadyPose):
    """Finds its person at one place of every picture that it is shown."""

    def _found(self, frames: Iterable[Frame], told: Found | None = None) -> Landmarks:
        found = super()._found(frames, told)
        return replace(found, image_px=np.broadcast_to(found.image_px[:1], found.image_px.shape).copy())


@dataclass
class PlatePose(StillPose):
    """Finds a wrist where the room's still shows the plate."""

    source: DrawnClip = field(kw_only=True)

    def follow(
        self, frames: Iterable[Frame], box: Box, mirrored: bool = False, found: Found | None = None
    ) -> Landmarks:
        still = np.array(self.source.shake(self.source.seconds / 2))

        def told(frame: Frame, points: Floats | None) -> None:
            assert points is not None and found is not None
            moved = points.copy()
            moved[15] = self.source.place(frame.time_s) - self.source.shake(frame.time_s) + still
            found(frame, moved)

        return super().follow(frames, box, mirrored, told)


def test_limbs_are_followed_while_they_are_looked_at_and_the_halves_meet() -> None:
    """Whatever the hands lie on in a room that sways goes along with it, and stands in the room itself."""
    shake = lambda t: (9.0 * np.sin(1.3 * t), 6.0 * np.sin(2.1 * t))  # noqa: E731
    source = DrawnClip(seconds=SHORT_S + 1.0, shake=shake)
    one, two = (look(source, StillPose(), limbs=True, threads=n).flow for n in (1, 2))
    assert one is not None and two is not None
    assert np.array_equal(one.moved_px, two.moved_px, equal_nan=True)
    assert np.allclose(np.diff(one.time_s), 1 / source.clip.fps_mean)
    steps = np.linalg.norm(one.steps("left_wrist"), axis=1)
    assert np.isfinite(steps).mean() > 0.95
    assert np.nanmedian(steps) < 0.05
    assert look(source, StillPose(), threads=1).flow is None


def test_limbs_are_followed_where_they_lie_in_the_picture_itself() -> None:
    """A wrist that is found on a plate, in pictures of a swaying phone, goes with the plate."""
    source = DrawnClip(seconds=SHORT_S / 2, shake=lambda t: (25.0 * np.sin(1.3 * t), 20.0 * np.sin(2.1 * t)))
    flow = look(source, PlatePose(source=source), limbs=True, threads=1).flow
    assert flow is not None
    steps = flow.steps("left_wrist")[1:, 1]
    true = -np.diff([source.height(float(t)) for t in flow.time_s])
    assert np.isfinite(steps).mean() > 0.9
    assert np.nanmedian(np.abs(steps - true)) < 0.1


def test_where_a_hand_held_camera_sees_somebody_is_told_in_both_looks() -> None:
    """Somebody on a seat leaves their place in the picture as the camera does, and keeps it in the room."""
    source = DrawnClip(seconds=SHORT_S / 2, shake=lambda t: (9.0 * np.sin(1.3 * t), 6.0 * np.sin(2.1 * t)))
    seen = look(source, StillPose(), threads=1)
    assert seen.dense is not None and seen.camera is not None
    for found in (seen.dense, look_again(source, StillPose(), seen, threads=1)):
        place = found.image_px[:, 0, 11, :2]
        moved = place - [source.shake(t) for t in found.time_s]
        assert np.ptp(place, axis=0).min() > 5.0
        assert np.abs(moved - np.median(moved, axis=0)).max() < 0.7
