"""The sample clips, judged from recorded looks: no test need look at them again.

``python -m tests.samples`` (``make looks``) looks at every clip whose recorded look no longer fits, first as
it is and then mirrored, and records both. The key of a look is ``sample_clips.look_key``.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from sample_clips.looks import recorded, recorded_again, seen_again_cached, seen_cached, why_stale
from sample_clips.rendered import truth_of
from shared.domain import Landmarks
from shared.exercise import find_exercise
from vision.judging.options import Options
from vision.pipeline import judge_twice
from vision.seeing.look import Seen
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.telling.analysis import Analysis

CLIPS = Path(__file__).parents[1] / "sample_clips"
LOOKS = Path(__file__).parent / "data" / "looks"
NAMES = tuple(sorted(path.stem for path in CLIPS.glob("*.mp4")))


@cache
def looked(name: str) -> tuple[Seen, Landmarks]:
    """Both recorded looks at a sample clip; fails in a sentence where they no longer fit."""
    clip, pose = clip_of(name), MediaPipePose()
    if stale := why_stale(clip, pose, LOOKS):
        pytest.fail(f"{stale} Look anew: make looks", pytrace=False)
    return recorded(clip, pose, LOOKS), recorded_again(clip, pose, LOOKS)


@cache
def checked(name: str) -> tuple[Analysis, dict[str, Any]]:
    """Analysis and truth of a sample clip."""
    truth = truth_of(clip_of(name))
    seen, again = looked(name)
    return judge_twice(seen, find_exercise(truth["exercise"]), Options(cleared=True), lambda: again), truth


def clip_of(name: str) -> Path:
    """The file of a sample clip."""
    return CLIPS / f"{name}.mp4"


def main() -> None:
    """Record looks at the sample clips that have none that fits."""
    pose = MediaPipePose()
    for name in NAMES:
        if stale := why_stale(clip_of(name), pose, LOOKS):
            print(stale, "Looking ...", file=sys.stderr)
            seen_again_cached(clip_of(name), pose, LOOKS, seen_cached(clip_of(name), pose, LOOKS))


if __name__ == "__main__":
    main()
