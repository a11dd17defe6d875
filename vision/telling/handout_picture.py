"""The hand-out as one picture for a phone: a PNG as wide as a phone shows it, as long as it takes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np

from shared.domain import Image
from shared.errors import InternalError
from vision.telling.handout import CHANGE, GOOD, Handout
from vision.telling.strokes import Colour, text_width, write

if TYPE_CHECKING:
    from vision.telling.stills import Still

WIDTH_PX = 1080
MARGIN = 56
GAP = 24
PAPER: Colour = (255, 253, 249)
INK: Colour = (32, 38, 43)
SOFT: Colour = (89, 98, 106)
LINE: Colour = (216, 211, 199)
BLUE: Colour = (0, 114, 178)
RED: Colour = (163, 42, 23)
TALL_PX = 760
LINES_FOR_TRAINER = 3
FROM = "From your trainer"


def handout_png(page: Handout, good: Still | None, fault: Still | None) -> bytes:
    """The hand-out as a PNG; InternalError where it cannot be encoded."""
    blocks = [
        _text(page.notice, 46, RED, 700),
        _text(page.title, 30, SOFT),
        _text(page.first, 68, INK, 700),
        _text(page.which, 38, SOFT),
        _text(page.more, 42, INK),
        _pictures([(good, GOOD, BLUE), (fault, CHANGE, RED)]),
        _text(page.target, 46, INK, 700),
        _text(page.praise, 38, INK),
        _facts([fact for fact in page.facts if fact[1]]),
        _room(page.own),
        *(_text(caution, 27, SOFT) for caution in page.cautions),
    ]
    shown = [block for block in blocks if len(block)]
    gap = _blank(GAP)
    done, data = cv2.imencode(
        ".png",
        cv2.cvtColor(np.vstack([_blank(MARGIN), *_between(shown, gap), _blank(MARGIN)]), cv2.COLOR_RGB2BGR),
    )
    if not done:
        raise InternalError("The picture of the hand-out could not be encoded; the report is complete.")
    return bytes(data)


def _between(blocks: Sequence[Image], gap: Image) -> list[Image]:
    return [part for block in blocks for part in (block, gap)][:-1]


def _blank(height: int) -> Image:
    return np.full((height, WIDTH_PX, 3), PAPER, np.uint8)


def _text(words: str, size: int, colour: Colour, weight: int = 500) -> Image:
    """Words over the page's width, broken into lines; nothing for none."""
    lines = wrapped(words, size, WIDTH_PX - 2 * MARGIN, weight)
    step = round(1.3 * size)
    out = _blank(step * len(lines))
    for row, line in enumerate(lines):
        write(out, (MARGIN, step * row + size), line, size, colour, weight)
    return out


def wrapped(words: str, size: float, width: float, weight: int = 500) -> list[str]:
    """The words in lines no wider than that many px; a word that is wider stands alone."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, weight) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _pictures(shown: Sequence[tuple[Still | None, str, Colour]]) -> Image:
    """The stills side by side, equally large, each under its words in its colour and with its mark."""
    known = [(still, words, colour) for still, words, colour in shown if still is not None]
    if not known:
        return _blank(0)
    width = (WIDTH_PX - 2 * MARGIN - GAP * (len(known) - 1)) // len(known)
    scale = min(min(width / s.image.shape[1], TALL_PX / s.image.shape[0]) for s, _, _ in known)
    sizes = [(round(s.image.shape[1] * scale), round(s.image.shape[0] * scale)) for s, _, _ in known]
    out = _blank(max(height for _, height in sizes) + 62)
    for i, ((still, words, colour), size) in enumerate(zip(known, sizes, strict=True)):
        left = MARGIN + i * (width + GAP)
        _mark(out, (left + 18, 26), colour)
        write(out, (left + 46, 38), f"{words}: rep {still.rep}", 34, colour, 700)
        image = cv2.resize(still.image, size, interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)
        out[62 : 62 + size[1], left : left + size[0]] = image
        cv2.rectangle(out, (left + 3, 65), (left + size[0] - 4, 58 + size[1]), colour, 6)
    return out


def _mark(image: Image, at: tuple[int, int], colour: Colour) -> None:
    """A tick for the good one, a triangle for the other: a shape beside the colour, in place."""
    x, y = at
    if colour == BLUE:
        tick = np.array([[x - 14, y], [x - 4, y + 11], [x + 15, y - 13]], np.int32)
        cv2.polylines(image, [tick], False, colour, 6, cv2.LINE_AA)
    else:
        cv2.fillPoly(
            image,
            [np.array([[x, y - 14], [x + 16, y + 13], [x - 16, y + 13]], np.int32)],
            colour,
            cv2.LINE_AA,
        )


def _facts(facts: Sequence[tuple[str, str]]) -> Image:
    """What is known of load and settings."""
    return _text("   ".join(f"{what}: {value}" for what, value in facts), 36, INK)


def _room(own: Sequence[str]) -> Image:
    """What the trainer says, else ruled lines for what they write onto the picture."""
    if own:
        return np.vstack([_text(FROM, 30, SOFT), *(_text(words, 42, INK) for words in own)])
    out = _blank(46 + 62 * LINES_FOR_TRAINER)
    write(out, (MARGIN, 32), FROM, 30, SOFT)
    for row in range(1, LINES_FOR_TRAINER + 1):
        y = 40 + 62 * row
        cv2.line(out, (MARGIN, y), (WIDTH_PX - MARGIN, y), LINE, 2)
    return out
