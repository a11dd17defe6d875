"""The page's own scripts and styles, packed: a third of what they are on the disk.

Their names change with what is in them, so that a browser may keep them for good.
"""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

STATIC = "/static/"
_KINDS = {".js": "text/javascript", ".css": "text/css"}
_FOR_GOOD = {"Content-Encoding": "gzip", "Vary": "Accept-Encoding",
             "Cache-Control": "public, max-age=31536000, immutable"}  # fmt: skip


class Packed:
    """Answers for scripts and styles where the browser takes them packed; all else goes on."""

    def __init__(self, app: ASGIApp):
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or pass on."""
        answer = self.app
        if scope["type"] == "http" and scope["method"] == "GET" and scope["path"].startswith(STATIC):
            kind = _KINDS.get(Path(scope["path"]).suffix)
            takes = "gzip" in Headers(scope=scope).get("accept-encoding", "")
            body = await run_in_threadpool(packed, scope["path"]) if kind and takes else None
            if body is not None:
                answer = Response(body, media_type=kind, headers=_FOR_GOOD)
        await answer(scope, receive, send)


def packed(path: str) -> bytes | None:
    """The file at an address, packed; None where there is none."""
    file = _files().get(path)
    return None if file is None else _gzipped(file)


@lru_cache(maxsize=1)
def _files() -> Mapping[str, Path]:
    """All that may be asked for, by its address: whatever else one says never reaches the disk."""
    from streamlit.file_util import get_static_dir

    root = Path(get_static_dir())
    found = (root / "static").rglob("*")
    return {f"/{file.relative_to(root).as_posix()}": file for file in found if file.suffix in _KINDS}


@lru_cache(maxsize=256)
def _gzipped(file: Path) -> bytes:
    return gzip.compress(file.read_bytes(), 6)
