"""Screens without a browser: what can be read, pressed and typed on them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

MAIN = Path(__file__).parents[2] / "app" / "main.py"
Open = Callable[..., Any]
Ask = Callable[..., tuple[int, dict[str, str], str]]


def sound(page: Any) -> Any:
    assert not page.exception, [e.value for e in page.exception]
    return page


def read(page: Any) -> str:
    """All that can be read, without the style sheet."""
    kinds = ("html", "markdown", "caption", "info", "warning", "error", "success")
    found = [e.proto.body if kind == "html" else e.value for kind in kinds for e in page.get(kind)]
    return "\n".join(str(f) for f in found)


def click(page: Any, label: str) -> Any:
    return sound(next(b for b in page.button if b.label == label).click().run())


def labels(page: Any) -> list[str]:
    return [b.label for b in page.button]
