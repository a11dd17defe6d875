"""The card for the wall: one page a machine, with all that its file says in the order it is needed."""

from __future__ import annotations

from pathlib import Path

import pytest

from app import cli
from app.page.pdf import filled, one_page
from app.page.wall_card import SIZES, card_content
from shared.exercise import exercise_names, find_exercise
from tests.page.test_sheet import words_of
from vision.common.cautions import HANDLING, STOP_ON

pytest.importorskip("weasyprint", reason="weasyprint is not installed: make setup")


@pytest.mark.parametrize("name", exercise_names())
def test_a_machines_card_is_one_page_with_every_step_cue_and_caution(name: str) -> None:
    exercise = find_exercise(name)
    content = card_content(exercise)
    tried: list[float] = []

    def at(size: float) -> str:
        tried.append(size)
        return filled("card.html", content, size)

    document = one_page(at, SIZES)
    text = " ".join(words_of(document).split())
    lines = [*exercise.setup, *exercise.cues, *exercise.getting_out, exercise.cautions[0], HANDLING, STOP_ON]
    places = [text.index(line) for line in lines]
    assert len(document.pages) == 1 and places == sorted(places) and len(places) >= 13
    assert "common practice, no published source" in text
    assert tried[-1] >= 14.0, "readable from an arm's length"
    assert "var(--" not in content["drawing"] and "f-joint" in content["drawing"]


def test_a_machine_without_a_drawing_has_its_card_all_the_same() -> None:
    bare = find_exercise("leg-curl").model_copy(update={"drawing": None, "setup": (), "cues": ()})
    text = filled("card.html", card_content(bare), 12.0)
    assert "Getting out" in text and "Getting in" not in text and "While you lift" not in text


def test_the_command_writes_the_card_and_says_where(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(out: Path) -> int:
        command = ["exercises", "card", "leg-curl", "--out", str(out)]
        return cli.run(lambda: cli.app(command, standalone_mode=False))

    assert run(tmp_path / "card.pdf") == 0
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF-")
    assert "card.pdf" in capsys.readouterr().out
    assert run(tmp_path / "gone" / "card.pdf") == 2
    assert "choose another place with --out" in capsys.readouterr().err
    assert [p.name for p in tmp_path.iterdir()] == ["card.pdf"]
