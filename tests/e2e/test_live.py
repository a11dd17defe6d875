"""A clip looked at now, with the real landmark model, is seen and judged as its recorded look."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.exercise import find_exercise
from tests.samples import NAMES, checked, clip_of
from vision.judging.confirm import LOOKED_AGAIN
from vision.judging.options import Options
from vision.pipeline import analyse
from vision.seeing.clip import open_clip
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.telling.analysis import Analysis

#: A set without flags, looked at once, and one with flags, looked at twice; the others in ``make test-all``.
FEW = ("leg-curl-clean", "leg-extension-faulty")
#: Other processors calculate a little differently: half of all points, and 99 in 100, lie this near.
HALF_PX, NEARLY_ALL_PX = 0.25, 3.0


def analysed(name: str, threads: int = 2) -> Analysis:
    """The whole way, from the clip."""
    exercise = find_exercise(checked(name)[1]["exercise"])
    return analyse(
        open_clip(clip_of(name)), exercise, MediaPipePose(), Options(cleared=True), threads=threads
    )


@pytest.mark.parametrize(
    "name", [name if name in FEW else pytest.param(name, marks=pytest.mark.long) for name in NAMES]
)
def test_a_clip_looked_at_now_is_seen_and_judged_as_it_was_recorded(name: str) -> None:
    was, now = checked(name)[0], analysed(name)
    assert len(now.looks) == len(was.looks)
    for ours, kept in zip(now.looks, was.looks, strict=True):
        _seen_alike(ours, kept)
    assert _told(now) == _told(was)
    times = [[(rep.start_s, rep.end_s) for rep in a.report.reps] for a in (now, was)]
    assert np.abs(np.subtract(*times)).max() < 0.1


@pytest.mark.long
def test_the_same_clip_gives_the_same_report_with_one_thread_and_with_two() -> None:
    one, two = (analysed("leg-extension-faulty", threads) for threads in (1, 2))
    assert one.report.to_json() == two.report.to_json()


def _seen_alike(ours: Landmarks, kept: Landmarks) -> None:
    assert (ours.frame == kept.frame).all() and np.allclose(ours.time_s, kept.time_s)
    off = np.linalg.norm((ours.image_px - kept.image_px)[..., :2], axis=-1)
    known = ~np.isnan(off)
    assert known.sum() == (~np.isnan(kept.image_px[..., 0])).sum() == (~np.isnan(ours.image_px[..., 0])).sum()
    half, nearly_all = np.percentile(off[known], [50, 99])
    assert half < HALF_PX and nearly_all < NEARLY_ALL_PX


def _told(analysis: Analysis) -> tuple[object, ...]:
    """What must not depend on the processor: fitness, count, flags, and whether it was looked at twice."""
    report = analysis.report
    flags = sorted((f.check, f.rep or 0) for f in report.flags())
    fit = (report.quality.view, [p.code for p in report.quality.problems])
    return report.count, fit, flags, LOOKED_AGAIN in report.steps
