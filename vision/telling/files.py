"""Files appear whole or not at all."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

#: The hand-out as one picture, the clip with limbs drawn on it, and the report as one page.
HANDOUT, ANNOTATED, PAGE = "handout.png", "annotated.mp4", "report.html"


def write_text(path: Path, text: str) -> None:
    """Write a text file in one move, lines ending in a line feed on every system."""
    replace(path, lambda part: _ignore(part.write_text(text, encoding="utf-8", newline="\n")))


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file of bytes in one move."""
    replace(path, lambda part: _ignore(part.write_bytes(data)))


def replace(path: Path, write: Callable[[Path], None]) -> None:
    """Let ``write`` fill a file beside ``path``, then move it there; nothing stays when it fails."""
    part = path.with_name(f".part-{path.name}")
    try:
        write(part)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


def _ignore(_: int) -> None:
    return None
