"""What a phone fetches to open the page: scripts packed, and nothing fetched twice."""

from __future__ import annotations

import asyncio
import gzip
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.middleware import Middleware
from streamlit.file_util import get_static_dir

from app.page import assets
from app.page.packed import Packed
from app.page.theme import OURS
from tests.page.screens import asked_of

ZIP = {"accept-encoding": "gzip"}
SCRIPT = next((Path(get_static_dir()) / "static" / "js").glob("index.*.js"))
APP = Starlette(routes=assets.routes(), middleware=[Middleware(Packed)])


def _ask(path: str, headers: dict[str, str]) -> Any:
    return asyncio.run(asked_of(APP, "http", path, headers, None))


def test_a_script_comes_packed_and_may_be_kept() -> None:
    sent: list[Any] = []

    async def send(message: Any) -> None:
        sent.append(message)

    scope = {"type": "http", "method": "GET", "path": f"/static/js/{SCRIPT.name}",
             "headers": [(b"accept-encoding", b"gzip")]}  # fmt: skip
    asyncio.run(Packed(APP)(scope, None, send))  # type: ignore[arg-type]
    headers = dict(sent[0]["headers"])
    assert headers[b"content-encoding"] == b"gzip" and b"immutable" in headers[b"cache-control"]
    assert gzip.decompress(sent[1]["body"]) == SCRIPT.read_bytes()
    assert len(sent[1]["body"]) < len(SCRIPT.read_bytes()) / 2


@pytest.mark.parametrize(
    ("path", "headers"),
    [
        (f"/static/js/{SCRIPT.name}", {}), ("/static/js/none.js", ZIP), ("/static/../../hello/x.js", ZIP),
        ("/static/../index.html", ZIP), ("/static/\x00.js", ZIP), (f"/static/{'a' * 300}.js", ZIP),
        (f"/static/js/../js/{SCRIPT.name}", ZIP),
    ],
)  # fmt: skip
def test_all_else_goes_on_as_it_is(path: str, headers: dict[str, str]) -> None:
    assert _ask(path, headers)[0] == 404  # nothing behind it here


def test_a_file_of_ours_that_has_not_changed_is_not_sent_again() -> None:
    path = f"{OURS}tus-js-client-4.3.1.min.js"
    status, headers, body = _ask(path, {})
    assert status == 200 and len(body) > 20_000
    assert _ask(path, {"if-none-match": headers["etag"]})[::2] == (304, "")
    assert _ask(path, {"if-none-match": '"another"'})[0] == 200
