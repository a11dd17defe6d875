"""An exercise that needs a trainer's word: measured for the trainer, nothing worded for who has none."""

from __future__ import annotations

from pathlib import Path

import pytest

from shared.exercise import FOLDER
from tests.stick_sets import judged, knee_motion
from vision.judging.options import Options
from vision.telling.words import NOT_CLEARED


@pytest.fixture(scope="module")
def guarded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The leg extension, but for the trainer's word that it needs."""
    path = tmp_path_factory.mktemp("own") / "guarded.toml"
    text = (FOLDER / "leg-extension.toml").read_text(encoding="utf-8")
    path.write_text("needs_clearance = true\n" + text, encoding="utf-8")
    return path


@pytest.mark.parametrize("cleared", [True, False])
def test_prompts_are_worded_only_for_who_is_cleared(guarded: Path, cleared: bool) -> None:
    too_fast = knee_motion(lift_s=0.4, lower_s=0.4)
    report = judged(too_fast, str(guarded), Options(cleared=cleared)).report
    flags = [f for f in report.flags() if f.check == "too-fast"]
    assert len(flags) == report.count == 8
    assert {f.prompt is not None for f in flags} == {cleared}
    assert (NOT_CLEARED in report.notices) is not cleared


def test_without_the_need_of_a_word_nobody_has_to_be_cleared() -> None:
    report = judged(knee_motion(lift_s=0.4, lower_s=0.4)).report
    assert any(f.prompt for f in report.flags()) and NOT_CLEARED not in report.notices
