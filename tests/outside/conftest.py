"""What more than one outside check looks at: the two-person clip, judged once."""

from __future__ import annotations

from pathlib import Path

import pytest

from shared.exercise import load_exercise
from tests.outside.registry import member, wheel

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="session")
def jumps():
    """(what was seen, its analysis) of the real clip of two arms-overhead jumps with a second person."""
    from vision.judging.options import Options
    from vision.pipeline import judge_seen
    from vision.seeing.clip import open_clip
    from vision.seeing.look import look
    from vision.seeing.pose_mediapipe import MediaPipePose

    source = open_clip(member(wheel("sports2d", "0.8.34"), "Sports2D/Demo/demo.mp4"))
    seen = look(source, MediaPipePose())
    return seen, judge_seen(seen, load_exercise(DATA / "arms-overhead-jump.toml"), Options())
