"""A page opened by its own address: it is told where the server is, and asks nowhere else first."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

#: The addresses of the screens beside the first one, as ``app/main.py`` names them.
SCREENS = ("week", "members", "film", "tempo", "studio", "review", "results", "sample")
#: Without it the page asks below its own address first, which is answered with 404.
_HERE = (
    "<script>window.__streamlit={BACKEND_BASE_URL:location.origin,"
    "MAIN_PAGE_BASE_URL:location.origin}</script>"
)


def show(request: Request) -> Response:
    """The page's frame, as at the root."""
    return HTMLResponse(_frame(), headers={"Cache-Control": "no-cache"})


@lru_cache(maxsize=1)
def _frame() -> str:
    import streamlit as st

    frame = Path(st.__file__).parent / "static" / "index.html"
    return frame.read_text(encoding="utf-8").replace("<head>", f"<head>{_HERE}", 1)


def screen_routes() -> list[Route]:
    """One a screen."""
    return [Route(f"/{name}", show, methods=["GET"]) for name in SCREENS]
