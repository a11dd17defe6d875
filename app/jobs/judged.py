"""A clip judged, or two of one set together; a second one that cannot be read is left out. Contained only."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from app.jobs.following import Following
from shared.errors import ClipError
from shared.exercise import Exercise
from shared.report import SetReport
from vision.common.notices import left_out_words

if TYPE_CHECKING:
    from vision.common.seams import LimbSource, PoseEstimator
    from vision.judging.options import Options
    from vision.telling.analysis import Analysis

#: The clip, its analysis, the report that is kept, and the second clip with its own where it was used.
Judged = tuple["LimbSource", "Analysis", SetReport, "tuple[LimbSource, Analysis] | None"]
NO_APPROVED = "Judged without the approved set, which cannot be read any more; approve another one."


def judge(
    clips: tuple[Path, ...], exercise: Exercise, pose: PoseEstimator, options: Options, following: Following,
    notes: list[str],
) -> Judged:  # fmt: skip
    """Judge a set by its clip, or by both where the second can be read; ClipError where the first cannot.

    notes: what is to be read of how it was judged.
    """
    from vision.pipeline import analyse
    from vision.seeing.clip import open_clip

    first = open_clip(clips[0])
    if len(clips) > 1:
        try:
            return _both(first, clips[1], exercise, pose, options, following, notes)
        except ClipError as why:
            notes = [*notes, left_out_words(clips[1].name, str(why))]
    analysis = analyse(first, exercise, pose, options, following, first=following.first)
    analysis = noted(analysis, notes) if notes else analysis
    return first, analysis, analysis.report, None


def _both(
    first: LimbSource, clip: Path, exercise: Exercise, pose: PoseEstimator, options: Options,
    following: Following, notes: list[str],
) -> Judged:  # fmt: skip
    from vision.pair import analyse_pair, in_first_times
    from vision.seeing.clip import open_clip

    second = open_clip(clip)
    pair = analyse_pair((first, second), exercise, pose, options, following)
    pair = replace(pair, first=noted(pair.first, notes)) if notes else pair
    return first, pair.first, in_first_times(pair), (second, pair.second)


def noted(analysis: Analysis, notes: list[str]) -> Analysis:
    """The analysis with these notes before its own on how the clip was judged."""
    quality = analysis.report.quality
    quality = quality.model_copy(update={"notes": [*notes, *quality.notes]})
    return replace(analysis, report=analysis.report.model_copy(update={"quality": quality}))
