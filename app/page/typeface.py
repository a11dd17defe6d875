"""The page's typeface, for wherever it is read: by address on the page, inside a file that leaves it."""

from __future__ import annotations

import base64
from functools import lru_cache

from app.page.theme import ASSETS, TYPEFACE, TYPEFACE_FILE, WEIGHTS


def face(address: str) -> str:
    """The rule of a style sheet that fetches the typeface from an address."""
    return (
        f'@font-face{{font-family:"{TYPEFACE}";src:url({address}) format("woff2");font-weight:{WEIGHTS};'
        "font-display:swap}"
    )


@lru_cache(maxsize=1)
def inside() -> str:
    """The same with the typeface in the rule itself, 45 kB: nothing is fetched."""
    held = base64.b64encode((ASSETS / TYPEFACE_FILE).read_bytes()).decode("ascii")
    return face(f"data:font/woff2;base64,{held}")


def with_typeface(page: bytes) -> bytes:
    """A report as the page gives it out: with the typeface in it, where it has a style sheet."""
    return page.replace(b"<style>", b"<style>" + inside().encode(), 1)
