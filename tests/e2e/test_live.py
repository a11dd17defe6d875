"""A clip looked at now, with the real landmark model, is seen and judged as its recorded look.

``make test`` looks at the beginning of two clips, ``make test-all`` at the whole of all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Frame, Landmarks
from shared.exercise import find_exercise
from tests.samples import NAMES, checked, clip_of
from vision.common.seams import LimbSource
from vision.judging.confirm import LOOKED_AGAIN
from vision.judging.options import Options
from vision.pipeline import analyse
from vision.seeing.clip import open_clip
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.telling.analysis import Analysis

#: So much of a clip, in s, holds four repetitions, and one of its flags where it has any.
BEGINNING_S = 20.0
#: Half of all points, and 99 in 100, lie this near: other processors calculate a little differently.
WHOLE_PX = (0.25, 3.0)
#: A part of a clip is looked at in another part of the picture, and halved elsewhere.
PART_PX = (2.0, 12.0)


class Beginning:
    """The first ``BEGINNING_S`` of a clip as a clip of its own."""

    def __init__(self, whole: LimbSource):
        self._whole = whole
        frames = round(BEGINNING_S * whole.clip.fps_mean)
        self.clip = replace(whole.clip, duration_s=BEGINNING_S, frames=frames)

    def frames(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        min_step_s: float = 0.0,
        gray: bool = False,
    ) -> Iterator[Frame]:
        return self._whole.frames(start_s, self._until(end_s), min_step_s, gray)

    def with_gray(
        self, start_s: float, end_s: float | None, min_step_s: float, gray_step_s: float
    ) -> Iterator[Frame]:
        return self._whole.with_gray(start_s, self._until(end_s), min_step_s, gray_step_s)

    def _until(self, end_s: float | None) -> float:
        return BEGINNING_S if end_s is None else min(end_s, BEGINNING_S)


def analysed(name: str, source: LimbSource, threads: int = 2) -> Analysis:
    """The whole way, from the pictures."""
    exercise = find_exercise(checked(name)[1]["exercise"])
    return analyse(source, exercise, MediaPipePose(), Options(cleared=True), threads=threads)


@pytest.mark.parametrize(("name", "twice"), [("leg-curl-clean", False), ("leg-extension-faulty", True)])
def test_the_beginning_of_a_clip_looked_at_now_is_judged_as_it_was_recorded(name: str, twice: bool) -> None:
    was, now = checked(name)[0], analysed(name, Beginning(open_clip(clip_of(name))))
    assert (LOOKED_AGAIN in now.report.steps) is twice
    assert now.report.quality.view == was.report.quality.view and now.report.quality.usable
    _seen_alike(now.looks[-1], was.looks[-1], *PART_PX)
    early = [rep for rep in was.report.reps if rep.end_s < BEGINNING_S - 1.0]
    _same_times(now.report.reps[: len(early)], early, 0.2)
    ours, recorded = (
        {(f.check, f.rep) for f in a.report.flags() if f.rep in range(1, len(early) + 1)} for a in (now, was)
    )
    assert len(early) >= 4 and ours == recorded and bool(recorded) is twice


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_a_clip_looked_at_now_is_seen_and_judged_as_it_was_recorded(name: str) -> None:
    was, now = checked(name)[0], analysed(name, open_clip(clip_of(name)))
    # The second look is recorded of the whole set, and taken of the parts that matter.
    for ours, recorded, near_px in zip(now.looks, was.looks, (WHOLE_PX, PART_PX), strict=False):
        assert (ours.frame == recorded.frame).all()
        _seen_alike(ours, recorded, *near_px)
    assert len(now.looks) == len(was.looks)
    assert _told(now) == _told(was)
    _same_times(now.report.reps, was.report.reps, 0.1)


@pytest.mark.long
def test_the_same_clip_gives_the_same_report_with_one_thread_and_with_two() -> None:
    name = "leg-extension-faulty"
    one, two = (analysed(name, open_clip(clip_of(name)), threads) for threads in (1, 2))
    assert one.report.to_json() == two.report.to_json()


def _seen_alike(ours: Landmarks, recorded: Landmarks, half_px: float, nearly_all_px: float) -> None:
    """In the frames that both looked at: the same people, and their points near each other."""
    _, mine, kept = np.intersect1d(ours.frame, recorded.frame, return_indices=True)
    assert len(mine) > 0.4 * len(ours.frame)
    assert np.allclose(ours.time_s[mine], recorded.time_s[kept])
    now, then = ours.image_px[mine, ..., :2], recorded.image_px[kept, ..., :2]
    off = np.linalg.norm(now - then, axis=-1)
    known = ~np.isnan(off)
    assert (np.isnan(now) == np.isnan(then)).mean() > 0.98 and known.mean() > 0.25
    half, nearly_all = np.percentile(off[known], [50, 99])
    assert half < half_px and nearly_all < nearly_all_px


def _same_times(ours: list, recorded: list, within_s: float) -> None:
    bounds = [[(rep.start_s, rep.end_s) for rep in reps] for reps in (ours, recorded)]
    assert np.abs(np.subtract(*bounds)).max() < within_s


def _told(analysis: Analysis) -> tuple[object, ...]:
    """What must not depend on the processor: fitness, count, flags, and whether it was looked at twice."""
    report = analysis.report
    flags = sorted((f.check, f.rep or 0) for f in report.flags())
    fit = (report.quality.view, [p.code for p in report.quality.problems])
    return report.count, fit, flags, LOOKED_AGAIN in report.steps
