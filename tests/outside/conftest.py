"""What more than one outside check looks at: the two-person clip, judged once."""

from __future__ import annotations

from pathlib import Path

import pytest

from shared.exercise import load_exercise
from tests.outside.registry import member, wheel

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture(scope="session")
def jumps():
    """(what was seen, its analysis) of the real clip of two arms-overhead jumps with a second person.

    Looked at twice: one look sees a jump six times.
    """
    from vision.judging.options import Options
    from vision.pipeline import judge_twice
    from vision.seeing.clip import open_clip
    from vision.seeing.look import look, look_again
    from vision.seeing.pose_mediapipe import MediaPipePose

    source, pose = open_clip(member(wheel("sports2d", "0.8.34"), "Sports2D/Demo/demo.mp4")), MediaPipePose()
    seen, jump = look(source, pose), load_exercise(DATA / "arms-overhead-jump.toml")
    again = lambda: look_again(source, pose, seen=seen)  # noqa: E731
    return seen, judge_twice(seen, jump, Options(thorough=True), again)
