"""The sample clips, judged once a process with the real landmark model.

A test that asks for one belongs to the xdist group of its name, so that a clip is looked at once.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from shared.exercise import find_exercise
from vision.judging.options import Options
from vision.pipeline import analyse
from vision.seeing.clip import open_clip
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.telling.analysis import Analysis

CLIPS = Path(__file__).parents[1] / "sample_clips"


@cache
def checked(name: str) -> tuple[Analysis, dict]:
    """Analysis and truth of a sample clip."""
    truth = json.loads((CLIPS / f"{name}.truth.json").read_text())
    options = Options(cleared=True)
    source = open_clip(CLIPS / f"{name}.mp4")
    return analyse(source, find_exercise(truth["exercise"]), MediaPipePose(), options), truth
