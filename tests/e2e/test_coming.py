"""The sample clips while they are still being sent: what is told before their end, from recorded surveys."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sample_clips.rendered import truth_of
from shared.domain import Frame, Image, Landmarks
from shared.exercise import Exercise, find_exercise
from tests.samples import NAMES, checked, clip_of, looked
from vision import coming
from vision.coming import Coming
from vision.judging.options import Options
from vision.pipeline import first_look
from vision.seeing.look import Seen
from vision.telling.first_look import FirstLook

NAME = "leg-extension-clean"
#: So much of it is sent, where nothing is said of the whole set.
SECONDS = 25.0
#: A front and a side view; the others in ``make test-all``.
QUICK = ("leg-extension-faulty", "shoulder-press-faulty-front")
#: A bright and sharp picture, and a dark one.
BRIGHT = np.kron(np.indices((54, 30)).sum(axis=0) % 2 * 200 + 55, np.ones((16, 16)))[..., None].repeat(3, 2)
BRIGHT, DARK = BRIGHT.astype(np.uint8), np.full((864, 480, 3), 9, dtype=np.uint8)
Edit = Callable[[Landmarks], Landmarks]
Light = Callable[[float], Image]


class Arrived:
    """What is here of a clip: a picture wherever its recorded survey has one."""

    def __init__(self, seen: Seen, here_s: float, light: Light):
        self.clip, self._survey, self._light = replace(seen.clip, duration_s=here_s), seen.survey, light

    def frames(
        self, start_s: float = 0.0, end_s: float | None = None, min_step_s: float = 0.0, gray: bool = False
    ) -> Iterator[Frame]:
        """See ``vision.common.seams.FrameSource``."""
        last_s = self.clip.duration_s if end_s is None else end_s
        for index, time_s in zip(self._survey.frame, self._survey.time_s, strict=True):
            if start_s <= time_s <= last_s:
                yield Frame(int(index), float(time_s), self._light(float(time_s)))


class Recorded:
    """Finds in each picture whom the recorded survey found there."""

    name = "recorded"

    def __init__(self, survey: Landmarks):
        self._survey = survey

    def survey(self, frames: Iterable[Frame], people: int) -> Landmarks:
        """See ``vision.common.seams.PoseEstimator``."""
        shown = list(frames)
        rows = np.isin(self._survey.frame, [frame.index for frame in shown])
        parts = {f.name: getattr(self._survey, f.name) for f in fields(Landmarks) if f.name != "model"}
        there = Landmarks(model="recorded", **{name: values[rows] for name, values in parts.items()})
        return replace(there, time_s=np.array([frame.time_s for frame in shown]))


def as_it_is(survey: Landmarks) -> Landmarks:
    return survey


class Sent:
    """A sample clip on its way at an even pace."""

    def __init__(self, seen: Seen, exercise: Exercise, light: Light, seconds: float):
        self.seen, self.exercise, self.light, self.here_s = seen, exercise, light, 0.0
        self.seconds = min(seconds, seen.clip.duration_s)
        pose: Any = Recorded(seen.survey)
        self.reader = Coming(exercise, pose)

    def arrived(self, path: Path, coming: bool = False) -> Arrived:
        """What is here of it, in place of the file."""
        return Arrived(self.seen, self.here_s, self.light)

    def told(self, share: float) -> tuple[str, ...]:
        """What is told once so much of it is here."""
        self.here_s = share * self.seconds
        return self.reader.read_on(Path("set.mp4"), share)

    def told_at(self) -> list[float]:
        """The shares at which something is told."""
        return [share for share in (0.3, 0.6, 0.8, 0.9) if self.told(share)]

    def whole(self) -> FirstLook | None:
        """Its first words, when all is here."""
        self.here_s = self.seconds
        return self.reader.whole(Path("set.mp4"))


@pytest.fixture
def send(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Sent]:
    """Begin to send a sample clip, as it is or edited."""

    def begin(
        name: str = NAME, exercise: Exercise | None = None, edit: Edit = as_it_is,
        light: Light = lambda _: BRIGHT, seconds: float = SECONDS,
    ) -> Sent:  # fmt: skip
        seen, _ = looked(name)
        exercise = exercise or find_exercise(truth_of(clip_of(name))["exercise"])
        sent = Sent(replace(seen, survey=edit(seen.survey)), exercise, light, seconds)
        monkeypatch.setattr(coming, "open_clip", sent.arrived)
        return sent

    return begin


@pytest.mark.parametrize(
    "name", [name if name in QUICK else pytest.param(name, marks=pytest.mark.long) for name in NAMES]
)
def test_nothing_is_told_against_a_good_clip_and_its_count_is_there_with_its_end(
    name: str, send: Callable[..., Sent]
) -> None:
    sent = send(name, seconds=np.inf)
    assert sent.told_at() == [] and sent.told(0.95) == ()
    # That this count is right is asked in ``test_first_look.py``.
    first, said = sent.whole(), first_look(sent.seen, sent.exercise, Options(cleared=True))
    assert first is not None and first.count == said.count


def test_a_dark_clip_is_told_once_no_light_could_mend_it(send: Callable[..., Sent]) -> None:
    sent = send(light=lambda time_s: DARK)
    assert sent.told_at() == [0.8, 0.9]
    assert sent.told(0.9)[0].startswith("The picture is too dark")


def test_light_that_is_switched_on_in_time_is_no_refusal(send: Callable[..., Sent]) -> None:
    assert send(light=lambda time_s: DARK if time_s < 12 else BRIGHT).told_at() == []


def test_what_little_has_come_is_not_taken_for_half_of_a_clip(send: Callable[..., Sent]) -> None:
    sent = send(light=lambda time_s: DARK)
    sent.here_s = 20.0
    assert sent.reader.read_on(Path("set.mp4"), share=0.4) == ()


def test_a_wrong_view_is_told_with_the_right_one(send: Callable[..., Sent]) -> None:
    side = find_exercise("leg-extension")
    front = side.model_copy(update={"views": [side.views[0].model_copy(update={"name": "front"})]})
    sent = send(exercise=front)
    assert sent.told_at() == [0.8, 0.9]
    assert sent.told(0.9)[0].endswith("Film straight from the front.")


def _lower(until_s: float) -> Edit:
    """The person so far down that the feet leave the picture, until some moment."""

    def lower(survey: Landmarks) -> Landmarks:
        moved = survey.image_px.copy()
        moved[survey.time_s < until_s, ..., 1] += 300.0
        return replace(survey, image_px=moved)

    return lower


def test_a_limb_out_of_the_picture_is_told_unless_the_rest_could_mend_it(send: Callable[..., Sent]) -> None:
    sent = send(edit=_lower(np.inf))
    assert sent.told_at() == [0.8, 0.9]
    assert "left the picture" in sent.told(0.9)[0]
    assert send(edit=_lower(12.0)).told_at() == []


@pytest.mark.parametrize(("left_s", "mended"), [(0.0, False), (6.0, False), (30.0, True)])
def test_repetitions_to_come_may_outnumber_those_in_which_a_limb_was_lost(
    send: Callable[..., Sent], monkeypatch: pytest.MonkeyPatch, left_s: float, mended: bool
) -> None:
    analysis, _ = checked(NAME)
    assert analysis.reps is not None and len(analysis.reps.reps) == 12
    monkeypatch.setattr(
        coming, "lost_limbs", lambda *_: dict.fromkeys(range(1, 9), (("ankle", "left_ankle"),))
    )
    reader = send().reader
    reader._until_s = analysis.clip.duration_s
    assert reader._mended(analysis, total_s=analysis.clip.duration_s + left_s) is mended


def test_a_clip_that_was_hardly_read_before_its_end_is_left_to_its_check(send: Callable[..., Sent]) -> None:
    sent = send()
    sent.told(0.3)
    assert sent.whole() is None
    sent.told(0.9)
    assert sent.whole() is not None
