"""Members' cards as a PDF: a marker that is read from across the room, and a name for its owner."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from markupsafe import Markup

from app.page.pdf import filled, one_page
from app.page.tag_sheets import rect
from shared.errors import UsageError
from vision.telling.files import write_bytes

TYPE_PT = 10.0
#: Side of the marker's black square, mm: at two metres some 25 px of a 1080p picture, four a cell.
SIDE_MM = 42.0


def cards_pdf(register: Mapping[int, str]) -> bytes:
    """One card a person, eight a page of A4; InternalError and UsageError as ``one_page``."""
    content = cards_content(register)
    return bytes(one_page(lambda size: filled("member-cards.html", content, size), (TYPE_PT,)).write_pdf())


def write_cards(register: Mapping[int, str], out: Path) -> None:
    """Write the cards whole or not at all; UsageError where they cannot be written or drawn."""
    pdf = cards_pdf(register)
    try:
        write_bytes(out, pdf)
    except OSError as error:
        raise UsageError(
            f"The cards {out} cannot be written ({error.strerror}); choose another place with --out."
        ) from error


def cards_content(register: Mapping[int, str]) -> dict[str, Any]:
    """What stands on the cards."""
    cards = [
        {"number": number, "name": name, "marker": Markup(card_svg(number))}
        for number, name in sorted(register.items())
    ]
    return {"cards": cards}


def card_svg(number: int) -> str:
    """A card's marker at its true size, with the white edge that belongs to it."""
    from vision.seeing.member_cards import WHOLE, card_cells

    cell = SIDE_MM / WHOLE
    whole = SIDE_MM + 2 * cell
    cells = "".join(
        rect((column + 1) * cell, (row + 1) * cell, cell * 1.01, cell * 1.01)
        for row, column in card_cells(number)
    )
    return (
        f'<svg width="{whole:.2f}mm" height="{whole:.2f}mm" viewBox="0 0 {whole:.3f} {whole:.3f}">'
        f'<rect width="{whole:.3f}" height="{whole:.3f}" fill="#fff"/>{cells}</svg>'
    )
