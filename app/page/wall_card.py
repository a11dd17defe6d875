"""The card that hangs on the wall beside a machine: how to get in and out, what to think of, what to mind."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from markupsafe import Markup

from app.page.drawings import film_drawing, posture_drawing
from app.page.pdf import filled, one_page
from app.page.theme import ASSETS, palette
from shared.errors import UsageError
from shared.exercise import Exercise
from vision.common.cautions import LAST_WORD, NO_ADVICE, three_cautions
from vision.telling.files import replace

#: Sizes of the type in points, largest first; a card is read from an arm's length and more.
SIZES = (18.0, 17.0, 16.0, 15.5, 15.0, 14.5, 14.0, 13.0, 12.0)


def card_pdf(exercise: Exercise) -> bytes:
    """The card as a PDF of one A4 page; raises as ``one_page``."""
    content = card_content(exercise)
    return bytes(one_page(lambda size: filled("card.html", content, size), SIZES).write_pdf())


def write_card(exercise: Exercise, out: Path) -> None:
    """Write the card whole or not at all.

    Raises
    ------
    UsageError : the file cannot be written, or what draws it is not installed.
    """
    pdf = card_pdf(exercise)

    def write(part: Path) -> None:
        part.write_bytes(pdf)

    try:
        replace(out, write)
    except OSError as error:
        raise UsageError(
            f"The card {out} cannot be written ({error.strerror}); choose another place with --out."
        ) from error


def card_content(exercise: Exercise) -> dict[str, Any]:
    """What stands on the card."""
    low, high = exercise.target_reps
    return {
        "title": exercise.title,
        "trains": exercise.trains,
        "target": f"{low} to {high} slow reps",
        "drawing": Markup(_coloured(posture_drawing(exercise))),
        "film": film_drawing(exercise, exercise.views[0].name).words,
        "steps": exercise.setup,
        "cues": exercise.cues,
        "out": exercise.getting_out,
        "cautions": three_cautions(exercise),
        "last": f"{NO_ADVICE} {LAST_WORD}",
    }


def _coloured(svg: str) -> str:
    """A drawing in print's colours: a PDF knows no variables of the page."""
    colours = palette("light") | {"paper": "#ffffff"}
    rules = (ASSETS / "drawings.css").read_text(encoding="utf-8")
    printed = re.sub(r"var\(--([\w-]+)\)", lambda name: colours[name[1]], rules)
    return svg.replace(">", f"><style>{printed}</style>", 1)
