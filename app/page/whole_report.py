"""The tool's report as one page, opened by the hand-out as the trainer decided it."""

from __future__ import annotations

import base64
import re

from markupsafe import escape

_SHEET = re.compile(rb'<section class="sheet">.*?</section>', re.DOTALL)
TOOLS = "What follows is what the tool measured, before any trainer decided: for the trainer alone."


def as_decided(page: bytes, handout: bytes | None, why_none: str) -> bytes:
    """The page with that hand-out (a PNG) in place of the tool's own; without one, why there is none."""
    if handout is None:
        first = f'<p class="notice">{escape(why_none)}</p>'
    else:
        address = base64.b64encode(handout).decode("ascii")
        first = f'<img alt="The hand-out" style="max-width:100%" src="data:image/png;base64,{address}">'
    made = f'<section class="sheet">{first}</section><p class="notice">{escape(TOOLS)}</p>'
    return _SHEET.sub(lambda _: made.encode(), page, count=1)
