"""The doors beside the pages, without a store: what a browser is given to keep, and who is passed on."""

from __future__ import annotations

import asyncio
from types import SimpleNamespace
from typing import Any

import pytest

from app.page.studio import from_here
from app.store.rules import Actor

entry = pytest.importorskip("app.page.entry", reason="streamlit is not installed: make setup")
guard = pytest.importorskip("app.page.guard", reason="streamlit is not installed: make setup")
requests = pytest.importorskip("starlette.requests")


def a_request(scheme: str = "http", **headers: str) -> Any:
    named = {"host": "studio.example", **headers}
    given = [(name.replace("_", "-").encode(), value.encode()) for name, value in named.items()]
    scope = {"type": "http", "method": "GET", "path": "/", "query_string": b"", "headers": given}
    return requests.Request({**scope, "scheme": scheme})


@pytest.mark.parametrize(
    ("request_", "secure"),
    [
        (a_request("https"), True),
        (a_request("http", x_forwarded_proto="https"), True),
        (a_request("http"), False),
    ],
    ids=["tls", "tls in front", "this machine"],
)
def test_a_session_over_tls_is_never_sent_without_it(
    monkeypatch: pytest.MonkeyPatch, request_: Any, secure: bool
) -> None:
    monkeypatch.setattr(entry, "this_studio", lambda: SimpleNamespace(database=None))
    monkeypatch.setattr(entry.signin, "know_device", lambda *_: None)
    kept = entry._onward(request_, "secret").headers["set-cookie"].lower()
    assert ("secure" in kept.split("; ")) is secure
    assert "httponly" in kept.split("; ") and "samesite=lax" in kept.split("; ")


@pytest.mark.parametrize(
    ("origin", "same"),
    [({}, True), ({"origin": "https://studio.example"}, True), ({"origin": "https://evil.example"}, False)],
)
def test_a_form_is_taken_from_the_page_itself(origin: dict[str, str], same: bool) -> None:
    assert entry.same_origin(a_request(**origin).headers) is same


@pytest.mark.parametrize(
    ("role", "path", "status"),
    [
        ("trainer", "/media/report.html", 200), ("member", "/media/report.html", 404), ("member", "/", 200),
        (None, "/", 303), (None, "/media/report.html", 303), (None, "/static/../media/report.html", 303),
        (None, "/enter", 200), (None, "/enter/secret", 200), (None, "/enter/secret/more", 303),
        (None, "/static/app.js", 200),
    ],
)  # fmt: skip
def test_who_is_passed_on(monkeypatch: pytest.MonkeyPatch, role: str | None, path: str, status: int) -> None:
    monkeypatch.setattr(guard, "this_studio", lambda: SimpleNamespace(provider=False, door="link"))
    monkeypatch.setattr(guard, "acting", lambda *_: None if role is None else Actor(1, "Runa", role))
    sent: list[int] = []

    async def send(message: dict[str, Any]) -> None:
        sent.append(message.get("status", 0))

    async def page(scope: Any, receive: Any, send: Any) -> None:
        await entry.PlainTextResponse("the page")(scope, receive, send)

    async def receive() -> dict[str, Any]:
        return {"type": "http.request"}

    asyncio.run(guard.Guard(page)({**a_request().scope, "path": path}, receive, send))
    assert sent[0] == status


@pytest.mark.parametrize(
    ("headers", "here"),
    [
        ({"host": "localhost:8501"}, True), ({"host": "127.0.0.1"}, True), ({"Host": "[::1]:8501"}, True),
        ({"host": "studio.example"}, False), ({"host": "localhost.example:8501"}, False), ({}, False),
        ({"host": "localhost:8501", "X-Forwarded-For": "10.0.0.7"}, False),
        ({"host": "localhost:8501", "Via": "1.1 proxy"}, False),
        ({"host": "localhost:8501", "X-Forwarded-Proto": "https"}, False),
        ({"host": "localhost:8501", "X-Real-IP": "10.0.0.7"}, False),
    ],
)  # fmt: skip
def test_only_what_comes_straight_from_this_machine_is_from_here(headers: dict[str, str], here: bool) -> None:
    assert from_here(headers) is here
