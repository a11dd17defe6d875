"""Screens and doors without a browser: what can be read, pressed and typed, and what is answered."""

from __future__ import annotations

import asyncio
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


async def asked_of(
    app: Any, kind: str, path: str, headers: dict[str, str], form: str | None, method: str = ""
) -> Any:
    """Status, headers and body that the doors answer with; of a websocket its code and how it was met."""
    scope = {
        "type": kind, "path": path, "raw_path": path.encode(),
        "method": method or ("GET" if form is None else "POST"),
        "query_string": b"", "scheme": "http", "http_version": "1.1", "server": ("localhost", 8501),
        "headers": [(k.encode(), v.encode()) for k, v in headers.items()],
    }  # fmt: skip
    sent: list[dict[str, Any]] = []
    asked = iter([True])

    async def receive() -> dict[str, Any]:
        if not next(asked, False):
            await asyncio.Event().wait()  # the asker stays on the line
        return {"type": f"{kind}.request", "body": (form or "").encode(), "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    await app(scope, receive, send)
    first = sent[0]
    if kind == "websocket":
        return first.get("code", 0), {}, first["type"]
    body = b"".join(m.get("body", b"") for m in sent[1:])
    answered: dict[str, str] = {}
    for name, value in first["headers"]:  # a cookie a line
        before = answered.get(name.decode())
        answered[name.decode()] = value.decode() if before is None else f"{before}\n{value.decode()}"
    return first["status"], answered, body.decode("utf-8", "replace")
