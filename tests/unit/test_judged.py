"""A set judged by one clip or by two: a second one that cannot be read costs the first nothing."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from app.jobs.following import Following
from app.jobs.judged import NO_APPROVED, judge
from app.rules.second_clip import left_out
from shared.errors import ClipError
from shared.exercise import find_exercise
from tests.unit.handmade import analysis
from vision.judging.options import Options
from vision.pair import Pair, join

CLIPS = Path(__file__).parents[2] / "sample_clips"
MADE = analysis(exercise=find_exercise("leg-extension"))
SOUND = CLIPS / "leg-extension-faulty.mp4"


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Judge clips that are really opened, though not looked at; broken: the second ends in its middle."""

    def judged(*clips: Path, broken: bool = False, notes: tuple[str, ...] = ()) -> Any:
        def both(*_: object, **__: object) -> Pair:
            if broken:
                raise ClipError("front.mov stops being readable at 3.0 s.")
            other = replace(MADE, clip=replace(MADE.clip, file="front.mov"))
            return join(MADE, other)

        monkeypatch.setattr("vision.pipeline.analyse", lambda *_, **__: MADE)
        monkeypatch.setattr("vision.pair.analyse_pair", both)
        pose: Any = SimpleNamespace()
        following = Following(lambda step, share: None)
        return judge(clips, MADE.exercise, pose, Options(), following, list(notes))

    return judged


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    """What is no video, as a member may choose it."""
    plan = tmp_path / "plan.pdf"
    plan.write_bytes(b"%PDF-1.4 not a video at all")
    return plan


def test_a_second_file_that_is_no_video_is_left_out_and_the_first_is_judged(judged: Any, plan: Path) -> None:
    _, made, report, second = judged(SOUND, plan)
    (note,) = [note for note in report.quality.notes if note not in MADE.report.quality.notes]
    assert note.startswith("plan.pdf was left out: ") and left_out(report) and second is None
    assert (report.findings, made.report) == (MADE.report.findings, report)


def test_a_second_clip_that_breaks_off_is_left_out(judged: Any) -> None:
    _, _, report, second = judged(SOUND, SOUND, broken=True)
    assert left_out(report) and "stops being readable" in report.quality.notes[0] and second is None


def test_two_clips_that_can_be_read_are_judged_together(judged: Any) -> None:
    _, _, report, second = judged(SOUND, SOUND)
    assert len(report.clips) == 2 and second is not None


@pytest.mark.parametrize("more", [0, 1])
def test_a_first_file_that_is_no_video_is_refused_as_ever(judged: Any, plan: Path, more: int) -> None:
    with pytest.raises(ClipError):
        judged(plan, *[SOUND] * more)


@pytest.mark.parametrize("clips", [[SOUND], [SOUND, SOUND]])
def test_what_is_to_be_read_of_the_check_stands_first_in_its_notes(judged: Any, clips: list[Path]) -> None:
    _, made, report, _ = judged(*clips, notes=(NO_APPROVED,))
    assert report.quality.notes[0] == made.report.quality.notes[0] == NO_APPROVED
