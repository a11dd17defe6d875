"""The terminal's table: a line a repetition, and nothing in it that is true of them all."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace

import pytest

from app.command.terminal import _stands_out, print_set
from tests.check_sets import context, found
from tests.unit import handmade
from vision.common.notices import LOOKS_LIKE
from vision.judging.lockout import STRAIGHTER
from vision.telling.words import HOW_PIVOT


@pytest.mark.parametrize(("view", "told"), [("side", ""), ("front", "cannot tell: short range")])
def test_what_a_view_never_shows_is_not_told_of_each_repetition(view: str, told: str) -> None:
    findings = found(context("chest-fly", view="side"), "short-range")
    code = "view" if view == "side" else "limb-hidden"
    findings = [f.model_copy(update={"reason_code": code}) for f in findings]
    assert str(_stands_out(SimpleNamespace(number=1, partial=False), findings)) == told  # type: ignore[arg-type]


def _printed(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, **changes: object) -> str:
    monkeypatch.setenv("COLUMNS", "300")
    made = handmade.analysis(**changes)  # type: ignore[arg-type]
    print_set(made.report, made.exercise, Path("report.html"))
    return capsys.readouterr().out.replace("\u00a0", " ")


def test_a_set_of_what_may_be_another_machine_is_not_praised(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    notice = f"{LOOKS_LIKE} chest press, not like leg extension."
    assert "your best" in _printed(capsys, monkeypatch)
    said = _printed(capsys, monkeypatch, notices=[notice])
    assert said.startswith(notice) and "your best" not in said and "Make sure of the machine first" in said


def test_how_to_mark_the_axis_is_said_where_it_was_not(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Knee alignment" not in _printed(capsys, monkeypatch)
    quality = handmade.analysis().report.quality.model_copy(update={"notes": [HOW_PIVOT]})
    said = _printed(capsys, monkeypatch, quality=quality.model_dump())
    assert "Knee alignment not checked. To check it, mark the machine's axis: --mark pivot=" in said


def test_a_figure_within_its_limit_comes_after_what_the_picture_bears_out(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    knee = next(f for f in handmade.analysis().report.findings if f.check == "knee-lockout" and f.rep == 4)
    change = {"measured": 170.0, "uncertainty": 12.0, "reason": STRAIGHTER.format(degrees=14)}
    said = _printed(capsys, monkeypatch, findings=[knee.model_copy(update=change)])
    assert (
        "Repetition 4 at 17.4 s: knees locked out. Check the picture: elbow about 14 degrees straighter than "
        "in other reps; near straight, the camera reads it as more bent than it is. "
        "170 degrees, give or take 12 (limit: at most 172 degrees)"
    ) in said
