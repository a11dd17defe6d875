"""Members' cards: read when held to the camera, never for a machine's tag; the register; the sheet."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest

from app import cli
from app.page.member_cards import SIDE_MM, card_svg, cards_content
from app.page.pdf import filled
from app.reading.card_register import read_names, read_register, with_names, write_register
from shared.domain import Frame
from shared.errors import DefinitionError, UsageError
from shared.tags import CARDS
from tests.drawn import texture
from vision.seeing.member_cards import SURE, card_cells, shown_card

ROOM = texture(4, 480, 640, 20)


def paper(number: int, cell: int) -> np.ndarray:
    cells = np.full((9, 9), 220, np.uint8)
    for row, column in card_cells(number):
        cells[row + 1, column + 1] = 30
    return cv2.resize(cells, None, fx=cell, fy=cell, interpolation=cv2.INTER_NEAREST)


def shown(*sheets: np.ndarray, times: int = SURE) -> Iterator[Frame]:
    for k in range(times):
        gray = ROOM.copy()
        for i, sheet in enumerate(sheets):
            top, left = 60 + 200 * i + k, 150 + 2 * k
            gray[top : top + len(sheet), left : left + len(sheet)] = sheet
        yield Frame(k, k / 5, cv2.GaussianBlur(gray, (0, 0), 0.8))


@pytest.mark.parametrize("number", [1, 7, 131, CARDS])
@pytest.mark.parametrize("cell", [4, 12], ids=["small", "large"])
def test_a_card_is_read(number: int, cell: int) -> None:
    assert shown_card(shown(paper(number, cell))) == number


def test_a_card_turned_round_is_not_another_one() -> None:
    assert shown_card(shown(np.rot90(paper(23, 10)))) == 23


def test_one_picture_is_too_few_and_two_cards_name_nobody() -> None:
    assert shown_card(shown(paper(7, 10), times=1)) is None
    assert shown_card(shown(paper(7, 8), paper(9, 8))) is None
    assert shown_card(shown()) is None


def test_a_machines_tag_is_no_card() -> None:
    from shared.tags import MACHINES, PER_MACHINE, black_cells

    for marker in range(0, MACHINES * PER_MACHINE, 5):
        cells = np.full((8, 8), 220, np.uint8)
        for row, column in black_cells(marker):
            cells[row + 1, column + 1] = 30
        sheet = cv2.resize(cells, None, fx=12, fy=12, interpolation=cv2.INTER_NEAREST)
        assert shown_card(shown(sheet)) is None


def test_a_card_once_given_stays_that_persons(tmp_path: Path) -> None:
    first = with_names({}, ["Mara", "Ilse", "Mara"])
    assert first == {1: "Mara", 2: "Ilse"}
    left = {1: "Mara", 3: "Ilse"}
    write_register(tmp_path / "cards.csv", with_names(left, ["Tove", "Ilse"]))
    assert read_register(tmp_path / "cards.csv") == {1: "Mara", 2: "Tove", 3: "Ilse"}


def test_no_more_cards_than_there_are() -> None:
    with pytest.raises(UsageError, match="250 cards and all are given"):
        with_names({}, [f"Member {n}" for n in range(CARDS + 1)])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("number,name\n0,Mara\n", "line 2, number: '0' is no card"),
        ("number,name\n7,Mara\n7,Ilse\n", "line 3: gives card 7 to a second person"),
        ("number,name\n7,\n", "line 2, name"),
        ("name\nMara\n", "has no column number"),
    ],
)
def test_a_bad_register_is_named_by_line(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "cards.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DefinitionError, match=said):
        read_register(path)


def test_names_come_from_any_table_with_that_column(tmp_path: Path) -> None:
    (tmp_path / "members.csv").write_text("since;name\n2024;Mara\n2025;Ilse\n", encoding="utf-8")
    assert read_names(tmp_path / "members.csv") == ["Mara", "Ilse"]


def test_a_card_is_drawn_at_its_true_size_and_says_what_to_do() -> None:
    svg = card_svg(7)
    assert f'width="{SIDE_MM * 9 / 7:.2f}mm"' in svg and svg.count("<rect") == 1 + len(card_cells(7))
    page = filled("member-cards.html", cards_content({7: "Mara <b>", 9: "Ilse"}), 10.0)
    assert "Mara &lt;b&gt;" in page and "Card 9" in page and "hold the card still" in page


def test_the_command_draws_the_register(tmp_path: Path) -> None:
    out, register = tmp_path / "cards.pdf", tmp_path / "cards.csv"
    for names in (["Mara", "Ilse"], ["Tove"]):
        command = ["cards", *names, "--out", str(out), "--register", str(register)]
        assert cli.run(lambda given=command: cli.app(given, standalone_mode=False)) == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert read_register(register) == {1: "Mara", 2: "Ilse", 3: "Tove"}
