"""Printed tags for one machine, as a PDF: where to stick them, the tags to cut out, and the frame board."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from markupsafe import Markup

from app.page.drawings import film_drawing
from app.page.pdf import filled, one_page
from app.page.theme import ASSETS
from shared.errors import UsageError
from shared.exercise import Exercise
from shared.tags import (
    BOARD_COLUMNS,
    BOARD_ROWS,
    MACHINES,
    QUIET_SHARE,
    SIDE_CM,
    SQUARE_CM,
    TagPlace,
    black_cells,
    board_squares,
    tag_id,
)
from vision.telling.files import write_bytes

#: The sheets are laid out for this size of type only, in points.
TYPE_PT = 11.0
#: A machine from its side, as a sketch: stack with tag A on its top plate, lever with tag B, board C.
PLACES = "tag-places.svg"
#: So many of each tag to cut out: one to stick, one to keep.
COPIES = 2
NO_NUMBER = "{title} has no tags of its own: give its file a tag_number from 1 to {most} that no other has."


def tags_pdf(exercise: Exercise) -> bytes:
    """The sheets as a PDF of A4 pages.

    Raises
    ------
    UsageError : the exercise has no number for its tags; else as ``one_page``.
    """
    content = sheet_content(exercise)
    return bytes(one_page(lambda size: filled("tags.html", content, size), (TYPE_PT,)).write_pdf())


def write_tags(exercise: Exercise, out: Path) -> None:
    """Write the sheets whole or not at all; UsageError where they cannot be written or drawn."""
    pdf = tags_pdf(exercise)
    try:
        write_bytes(out, pdf)
    except OSError as error:
        raise UsageError(
            f"The tags {out} cannot be written ({error.strerror}); choose another place with --out."
        ) from error


def sheet_content(exercise: Exercise) -> dict[str, Any]:
    """What stands on the sheets."""
    number = exercise.tag_number
    if number is None:
        raise UsageError(NO_NUMBER.format(title=exercise.title, most=MACHINES))
    return {
        "title": exercise.title,
        "number": number,
        "copies": COPIES,
        "stack": Markup(tag_svg(number, "stack")),
        "lever": Markup(tag_svg(number, "lever")),
        "board": Markup(board_svg(number)),
        "where": Markup((ASSETS / PLACES).read_text(encoding="utf-8")),
        "film": film_drawing(exercise, exercise.views[0].name).words.split(";")[0].lower().rstrip("."),
        "view": exercise.views[0].name,
    }


def tag_svg(number: int, place: TagPlace) -> str:
    """One tag at its true size with its white edge and a dashed cut line round it."""
    side = 10 * SIDE_CM[place]
    edge = QUIET_SHARE * side
    whole = side + 2 * edge
    return (
        f'<svg width="{whole + 2}mm" height="{whole + 2}mm" viewBox="-1 -1 {whole + 2} {whole + 2}">'
        f'<rect width="{whole}" height="{whole}" fill="#fff" stroke="#555" stroke-width=".25" '
        f'stroke-dasharray="2 1.5"/>{_marker(tag_id(number, place), edge, edge, side)}</svg>'
    )


def board_svg(number: int) -> str:
    """The frame board at its true size."""
    square, side = 10 * SQUARE_CM, 10 * SIDE_CM["board"]
    width, height = BOARD_COLUMNS * square, BOARD_ROWS * square
    inside = (square - side) / 2
    parts = []
    for row, column, index in board_squares():
        x, y = column * square, row * square
        if index is None:
            parts.append(rect(x, y, square, square))
        else:
            parts.append(_marker(tag_id(number, "board", index), x + inside, y + inside, side))
    return f'<svg width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}">{"".join(parts)}</svg>'


def _marker(marker: int, x: float, y: float, side: float) -> str:
    """Black runs of a marker, each row's cells side by side as one."""
    cell, cells, out = side / 6, set(black_cells(marker)), []
    for row in range(6):
        start = 0
        while start < 6:
            end = start
            while (row, end) in cells:
                end += 1
            if end > start:
                out.append(rect(x + start * cell, y + row * cell, (end - start) * cell, cell * 1.01))
            start = end + 1
    return "".join(out)


def rect(x: float, y: float, width: float, height: float) -> str:
    """A black rectangle of a drawing."""
    return f'<rect x="{x:.3f}" y="{y:.3f}" width="{width:.3f}" height="{height:.3f}" fill="#000"/>'
