"""The sheets to print: three A4 pages, true sizes, what a person needs to read, and machines without tags."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app import cli
from app.page.pdf import filled, one_page
from app.page.tag_sheets import TYPE_PT, board_svg, sheet_content, tag_svg, tags_pdf
from shared.errors import UsageError
from shared.exercise import exercise_names, find_exercise
from shared.tags import BOARD_COLUMNS, BOARD_ROWS, SIDE_CM, SQUARE_CM, TagPlace

TITLE = "leg-curl"


@pytest.mark.parametrize("place", ["stack", "lever"])
def test_a_tag_is_drawn_at_its_true_size(place: TagPlace) -> None:
    svg = tag_svg(4, place)
    width, view = re.search(r'width="([\d.]+)mm".*?viewBox="-1 -1 ([\d.]+)', svg).groups()  # type: ignore[union-attr]
    assert float(width) == float(view), "one unit is one millimetre"
    black = [
        [float(v) for v in rect]
        for rect in re.findall(r'x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="[\d.]+" fill="#000"', svg)
    ]
    left, right = min(x for x, _, _ in black), max(x + w for x, _, w in black)
    assert right - left == pytest.approx(10 * SIDE_CM[place], abs=0.01)
    assert "stroke-dasharray" in svg


def test_the_board_fits_a_sheet_that_no_printer_cuts() -> None:
    assert 10 * SQUARE_CM * BOARD_COLUMNS < 210 - 24 + 1 and 10 * SQUARE_CM * BOARD_ROWS < 297 - 40
    assert f'width="{10 * SQUARE_CM * BOARD_COLUMNS}mm"' in board_svg(4)


@pytest.mark.parametrize("name", exercise_names())
def test_what_a_person_needs_stands_on_the_sheets(name: str) -> None:
    exercise = find_exercise(name)
    page = filled("tags.html", sheet_content(exercise), TYPE_PT)
    for said in ("Take the pin out first", "10 cm long", "Cover no warning label", "Fingers off the stack"):
        assert said in page
    assert exercise.title in page and f"machine number {exercise.tag_number}" in page


def test_the_sheets_are_three_pages(tmp_path: Path) -> None:
    out = tmp_path / "tags.pdf"
    command = ["tags", "--machine", TITLE, "--out", str(out)]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 0
    assert out.read_bytes().startswith(b"%PDF")
    content = sheet_content(find_exercise(TITLE))
    assert len(one_page(lambda size: filled("tags.html", content, size), (TYPE_PT,)).pages) == 3


def test_a_machine_without_a_number_has_no_tags() -> None:
    own = find_exercise(TITLE).model_copy(update={"tag_number": None})
    with pytest.raises(UsageError, match="give its file a tag_number from 1 to 12"):
        tags_pdf(own)
