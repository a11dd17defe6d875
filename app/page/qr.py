"""A QR code as a drawing: dark on light in either theme, with the quiet edge that cameras need."""

from __future__ import annotations

import segno


def qr_svg(text: str) -> str:
    """The code of a text as SVG markup, as large as the place it is put in."""
    code = segno.make(text, error="m", micro=False)
    return str(code.svg_inline(border=4, dark="#000", light="#fff", omitsize=True))
