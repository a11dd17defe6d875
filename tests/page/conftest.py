"""A store and its screens. On SQLite; what is marked ``on_both`` on PostgreSQL as well."""

from __future__ import annotations

import asyncio
import os
import shutil
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from streamlit.testing import v1 as testing

from app.page import entry, guard
from app.page.studio import COOKIE, DEVICE, Door
from app.page.studio import Studio as Store
from app.store.access import Access
from app.store.database import Database
from app.store.settings import StoreSettings
from app.views import asking, clip, send
from tests.databases import BOTH, opened
from tests.page.screens import Ask, Open, asked_of, sound
from tests.store.conftest import Studio

on_both = pytest.mark.parametrize("database", BOTH, indirect=True)


@pytest.fixture
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A migrated, empty store."""
    with opened(getattr(request, "param", "sqlite"), request, tmp_path) as database:
        yield database


@pytest.fixture
def studio(database: Database, tmp_path: Path) -> Studio:
    """A trainer and two members."""
    return Studio(database, tmp_path / "files")


@pytest.fixture
def open_page(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> Open:
    """Open one screen as somebody. The desk itself is for the browser.

    did: what was done there once it was shown; ``open_page.shown``: what it was given since; ``.senders``:
    what a clip would be sent with; marks: answers where a machine is marked. page: one that is open already;
    at_once: the page begins anew, and what was done is there before the desk is.
    """

    def opened(
        access: Access, name: str, did: Sequence[dict[str, Any]] = (), tab: str = "",
        marks: Callable[[Any], Any] = lambda data: [], page: Any = None, at_once: bool = False, **query: str,
    ) -> Any:  # fmt: skip
        shown_there = opened.shown = []  # type: ignore[attr-defined]
        store = Store(StoreSettings("", studio.files.folder), studio.database, studio.files)
        monkeypatch.setattr(asking, "this_studio", lambda: store)
        monkeypatch.setattr(asking, "acting", lambda *_: access.actor)
        log = [{"n": n, **event} for n, event in enumerate(did, 1)]

        def desk(data: dict[str, Any], key: str) -> list[dict[str, Any]]:
            shown_there.append(data)
            return log if key == f"desk-{query.get('set')}" and (at_once or shown_there[1:]) else []

        monkeypatch.setattr(clip, "desk", desk)
        for drawn in ("result", "teller"):
            monkeypatch.setattr(send, drawn, lambda *_, **__: None)
        senders = opened.senders = []  # type: ignore[attr-defined]
        monkeypatch.setattr(send, "sender", lambda actor, data, key: senders.append(data))
        monkeypatch.setattr(clip, "loops", lambda *_, **__: None)
        monkeypatch.setattr(clip, "marks", lambda data, key: marks(data))

        def screen(name: str) -> None:
            import importlib
            from collections import defaultdict

            import streamlit as st

            shown = importlib.import_module(f"app.views.{name}")
            page = st.Page(shown.show, title=name, url_path=name)
            st.navigation([page], position="hidden")
            st.session_state["pages"] = defaultdict(lambda: page)
            shown.show()

        if page is not None:
            shown_there.append({})
            return sound(page.run())
        page = testing.AppTest.from_function(screen, args=(name,), default_timeout=30)
        for key, value in query.items():
            page.query_params[key] = value
        if tab:
            page.session_state[f"tabs-{query['person']}" if "person" in query else name] = tab
        sound(page.run())
        return sound(page.run()) if did and not at_once else page

    return opened


@pytest.fixture
def people(studio: Studio) -> Studio:
    """The same, where ``studio`` is the module."""
    return studio


@pytest.fixture
def ask(people: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Ask:
    """Ask the doors, with the guard in front. door: how the page was started; device: a known browser."""

    async def inside(scope: Any, receive: Any, send: Any) -> None:
        await routed(scope, receive, send)

    fallback = entry.Route("/", lambda request: entry.PlainTextResponse("the page"))
    media = entry.Route("/media/{name}", lambda request: entry.PlainTextResponse("a file"))
    guarded = guard.Guard(inside)
    routed = Starlette(routes=[*entry.routes(), fallback, media])

    def asked(
        path: str, cookie: str | None = None, form: str | None = None, door: Door = "link",
        kind: str = "http", method: str = "", device: str = "", **headers: str,
    ) -> tuple[int, dict[str, str], str]:  # fmt: skip
        kept = Store(StoreSettings("", tmp_path), people.database, people.files, door)
        for module in (entry, guard):
            monkeypatch.setattr(module, "this_studio", lambda: kept)
        given = {"host": "localhost:8501", **{k.replace("_", "-"): v for k, v in headers.items()}}
        cookies = [f"{DEVICE}={device}"] if device else []
        cookies += [f"{COOKIE}={cookie}"] if cookie is not None else []
        if cookies:
            given["cookie"] = "; ".join(cookies)
        if form is not None:
            given["content-type"] = "application/x-www-form-urlencoded"
        return asyncio.run(asked_of(guarded, kind, path, given, form, method))

    return asked


@pytest.fixture
def browser() -> Iterator[Any]:
    """Chromium without a window, for tests marked ``browser``."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: make setup")
    chromium = shutil.which("chromium")
    if chromium is None and os.environ.get("PLUMBSET_NEEDS_BROWSER"):
        pytest.fail("no browser here, and its tests may not be skipped: apt-get install chromium")
    if chromium is None:
        pytest.skip("no browser here: apt-get install chromium")
    flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with sync_api.sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium, args=flags)
        yield opened
        opened.close()
