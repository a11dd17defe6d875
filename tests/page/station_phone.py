"""A station's phone without a browser, before the real doors and guard."""

from __future__ import annotations

import asyncio
import base64
import json
from collections.abc import Callable, Iterable
from contextlib import suppress
from types import SimpleNamespace
from typing import Any

import pytest
from sqlalchemy import func, select
from starlette.applications import Starlette

from app.jobs.counting import Counting
from app.page import entry, guard, sending, station, station_sets
from app.page.studio import Studio as Store
from app.store.settings import StoreSettings
from tests.page.test_sending import PIECE, _ask
from tests.store.conftest import Studio

MACHINE = "leg-extension"
STILL = b"a still"
Asked = tuple[int, dict[str, str], str]


def begun_with(told: str, length: int) -> dict[str, str]:
    """The headers with which a film of so many bytes begins."""
    words = {"told": told, "name": "station.mp4"}
    given = ",".join(f"{k} {base64.b64encode(v.encode()).decode()}" for k, v in words.items())
    return {"tus_resumable": "1.0.0", "upload_length": str(length), "upload_metadata": given}


class Phone:
    """A phone with the station's link; what its camera sees and how the check counts is said by the test."""

    def __init__(self, studio: Studio, app: Any):
        self.studio, self._app = studio, app
        self.secret = studio.trainer.make_station(MACHINE)
        self.card: int | None = None
        self.counting: Counting | Exception = Counting(8, "about 2 s up and 3 s down")
        self.counted: list[bytes] = []
        self.later: list[Callable[[], None]] = []

    def ask(
        self, method: str, path: str, body: Iterable[bytes] = (), secret: str = "", **headers: str
    ) -> Asked:
        cookies = {station.KEPT: secret or self.secret}
        cookie = "; ".join(f"{name}={value}" for name, value in cookies.items())
        given = {"host": "localhost:8501", "cookie": cookie}
        given |= {name.replace("_", "-"): value for name, value in headers.items()}
        return asyncio.run(_ask(self._app, method, path, given, body, False))

    def show(self, number: int | None, times: int = 2) -> dict[str, Any]:
        """Hold a card up in so many stills."""
        self.card = number
        for _ in range(times):
            status, _, said = self.ask("POST", "/station/card", [STILL])
            assert status == 200
        return dict(json.loads(said))

    def answer(self, shown: str, pain: bool) -> Asked:
        return self.ask("POST", "/station/pain", [json.dumps({"shown": shown, "pain": pain}).encode()])

    def film(self, shown: str = "", clip: bytes = b"a film") -> str:
        """Send a set; the address where its result is asked for."""
        begun = begun_with(json.dumps({"shown": shown}), len(clip))
        status, headers, said = self.ask("POST", "/station/sending", **begun)
        assert status == 201, said
        path = headers["location"]
        sent = {"tus_resumable": "1.0.0", "upload_offset": "0", "content_type": PIECE["content-type"]}
        assert self.ask("PATCH", path, [clip], **sent)[0] == 204
        return "/station/set/" + path.rsplit("/", 1)[1]

    def wait(self) -> None:
        """Let the time pass after which is done what was put off."""
        waiting, self.later = self.later, []
        for step in waiting:
            step()

    def result(self, path: str) -> dict[str, Any]:
        status, _, said = self.ask("GET", path)
        assert status == 200, said
        return dict(json.loads(said))


@pytest.fixture
def phone(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> Phone:
    """A station's phone at the leg extension, before the real doors and guard."""
    app = Starlette(routes=[*entry.routes(), *station.routes(), *sending.routes()])
    store = Store(StoreSettings("", studio.files.folder), studio.database, studio.files)
    for module in (entry, guard, sending, station):
        monkeypatch.setattr(module, "this_studio", lambda: store)
    held = Phone(studio, guard.Guard(app))

    def counted(clip: Any, exercise: str) -> Counting:
        assert exercise == MACHINE
        held.counted.append(clip.read_bytes())
        if isinstance(held.counting, Exception):
            raise held.counting
        return held.counting

    def timer(after_s: float, target: Callable[..., None], args: tuple[Any, ...]) -> Any:
        assert after_s == station_sets.AGAIN_S
        return SimpleNamespace(start=lambda: held.later.append(_AtOnce(target, args, daemon=True).start))

    at_once = SimpleNamespace(Thread=_AtOnce, Timer=timer, Lock=station_sets.threading.Lock)
    monkeypatch.setattr(station_sets, "threading", at_once)
    monkeypatch.setattr(station_sets, "counted", counted)
    stills = SimpleNamespace(
        card=lambda picture: held.card, look=lambda picture, exercise: [exercise], warm=lambda: None
    )
    monkeypatch.setattr(station, "stills", lambda: stills)
    monkeypatch.setattr(station, "get_ready", lambda: None)
    for kept in (station_sets.seats, station_sets.films, station._uploads):
        kept.cache_clear()
    return held


class _AtOnce:
    """A thread that has done its work, or has died of an error of ours, when it was started."""

    def __init__(self, target: Callable[..., None], args: tuple[Any, ...], daemon: bool):
        self._work = lambda: target(*args)

    def start(self) -> None:
        with suppress(RuntimeError):
            self._work()


@pytest.fixture
def card(studio: Studio) -> int:
    """The number of Ilse's card."""
    (number,) = studio.trainer.give_cards([studio.ilse.actor.id])
    return number


def rows(studio: Studio, table: Any) -> int:
    """How many rows a table has."""
    with studio.database.read() as session:
        return session.scalar(select(func.count()).select_from(table)) or 0


def nothing_lies_there(studio: Studio) -> bool:
    """No film, no still, no half of one."""
    ours = {"told.json", ".station-key"}
    return not [p for p in studio.files.folder.rglob("*") if p.is_file() and p.name not in ours]
