"""Every read and write tried as all who must not: guessed numbers, others' files, bad cookies and links."""

from __future__ import annotations

import asyncio
import random
import string
from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any
from unittest import mock

from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from app.page import entry, guard, station
from app.page.studio import COOKIE
from app.page.studio import Studio as StudioOfApp
from app.store import signin
from app.store.arriving import ArrivingClip, arriving, at_stations
from app.store.models import Pass, now
from app.store.rules import Refused
from app.store.settings import StoreSettings
from app.store.throttle import FREE_TRIES
from shared.errors import PlumbsetError
from tests.page.screens import asked_of
from tests.store.conftest import Studio
from tests.store.made import check, new_set
from tests.store.test_access import CALLS

#: What an attacker who is not signed in, or not a trainer, asks the server for; {} is a number.
PATHS = [
    "/", "/waiting", "/members", "/film", "/studio", "/review?set={}", "/kept/clip/{}", "/kept/clip/-{}",
    "/kept/clip/{}/..", "/kept/../../etc/passwd", "/media/{}.jpg", "/_stcore/upload_file/{}/{}",
    "/_stcore/stream", "/_stcore/host-config", "/static/../app/main.py", "/ENTER", "//enter",
    "/enter/../waiting", "/favicon.png/../waiting", "/_stcore/health/../stream", "/component/x/{}",
    "/%2e%2e/etc/passwd", "/enterx", "/ours/../waiting", "/kept/told/{}", "/kept/sending", "/kept/sending/{}",
    "/kept/member/{}",
]  # fmt: skip
GOOD = "a long enough sentence"
Ask = Callable[..., tuple[int, dict[str, str], str]]


@dataclass
class Attempts:
    """tried; let_in: sentences about those that got through although they must not."""

    tried: int = 0
    let_in: list[str] = field(default_factory=list)

    def must_fail(self, what: str, call: Callable[[], Any]) -> None:
        """Count an attempt that has to be refused."""
        self.tried += 1
        with suppress(PlumbsetError):
            call()
            self.let_in.append(what)


def try_store(studio: Studio, times: int, rng: random.Random) -> Attempts:
    """Every method of the store as everyone, on others' rows and on guessed numbers."""
    attempts = Attempts()
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    ilse = studio.ilse.actor.id
    for name, call, allowed in CALLS:
        for who, access in studio.all.items():
            if who not in allowed:
                attempts.must_fail(f"{name} as {who}", lambda c=call, a=access: c(a, ilse, set_id))
    foreign = [(n, c) for n, c, allowed in CALLS if "odo" not in allowed]
    while attempts.tried < times:
        name, call = rng.choice(foreign)
        number = rng.choice((set_id, ilse, 0, -1, rng.randrange(1, 2000), rng.randrange(1 << 31)))
        if number == studio.odo.actor.id:
            continue
        attempts.must_fail(f"{name} with {number}", lambda c=call, n=number: c(studio.odo, n, n))
    return attempts


def try_sessions(studio: Studio, times: int, rng: random.Random) -> Attempts:
    """Tampered, guessed, over and revoked sessions and links; passwords tried one after the other."""
    attempts, database = Attempts(), studio.database
    signin.set_account(database, studio.trainer.actor, "runa", GOOD)
    session = signin.sign_in(database, "runa", GOOD)
    link = studio.trainer.make_link(studio.ilse.actor.id)
    stolen = signin.open_link(database, link)
    for kind, secret in (("session", session), ("link session", stolen)):
        for _ in range(times):
            bad = _tampered(secret, rng)
            attempts.must_fail(f"tampered {kind}", lambda b=bad: _session(studio, b))
            attempts.must_fail("tampered link", lambda b=_tampered(link, rng): signin.open_link(database, b))
    with database.read() as rows:
        for kept in rows.query(Pass):
            attempts.must_fail("the kept hash", lambda k=kept: _session(studio, k.hash))
            attempts.must_fail("the kept hash as link", lambda k=kept: signin.open_link(database, k.hash))
    studio.trainer.revoke_links(studio.ilse.actor.id)
    attempts.must_fail("revoked link", lambda: signin.open_link(database, link))
    attempts.must_fail("session of a revoked link", lambda: _session(studio, stolen))
    signin.set_account(database, studio.trainer.actor, "runa", GOOD + "!")
    attempts.must_fail("session after a new password", lambda: _session(studio, session))
    attempts.must_fail("old password", lambda: signin.sign_in(database, "runa", GOOD))
    over = studio.trainer.make_link(studio.ilse.actor.id)
    with database.write() as rows:
        for row in rows.query(Pass):
            row.expires_at = now() - timedelta(seconds=1)
    attempts.must_fail("link past its date", lambda: signin.open_link(database, over))
    for i in range(min(times, 40)):
        guess = GOOD + "!" if i >= FREE_TRIES else f"guess number {i}"
        attempts.must_fail("password while locked out", lambda g=guess: signin.sign_in(database, "runa", g))
    return attempts


def _session(studio: Studio, secret: str) -> None:
    if signin.who(studio.database, secret) is None:
        raise Refused


def _tampered(secret: str, rng: random.Random) -> str:
    way = rng.randrange(5)
    at = rng.randrange(len(secret))
    letter = rng.choice([c for c in string.ascii_letters + string.digits if c != secret[at]])
    return [
        secret[:at] + letter + secret[at + 1 :], secret[:at], secret + letter, "", secret.swapcase() + "'--",
    ][way]  # fmt: skip


def try_addresses(ask: Ask, studio: Studio, times: int, rng: random.Random) -> Attempts:
    """Addresses asked for without a session, with a bad one, and as a member who wants a trainer's."""
    attempts = Attempts()
    set_id = new_set(studio.ilse, clip=b"of the doors")
    check(studio.database, studio.files)
    with studio.database.write() as session:
        member = signin.make_pass(session, "session", studio.odo.actor.id, 1)
    for i in range(times):
        path = PATHS[i % len(PATHS)].replace("{}", str(rng.choice((set_id, 1, rng.randrange(10_000)))))
        cookie = rng.choice((None, _tampered(member, rng), "x" * 5000))
        kind = "websocket" if path == "/_stcore/stream" else "http"
        _must_turn_away(attempts, ask, path, cookie, kind)
        of_ilse = (f"/kept/clip/{set_id}", f"/kept/told/{set_id}", f"/kept/moving/{set_id}",
                   f"/kept/member/{studio.ilse.actor.id}")  # fmt: skip
        private = rng.choice((*of_ilse, f"/media/{rng.randrange(1 << 60):x}.html"))
        _must_turn_away(attempts, ask, private, member, "http")
    return attempts


def try_uploads(studio: Studio, times: int, rng: random.Random) -> Attempts:
    """Clips on their way, by their own names and by guessed ones, as someone who does not send them."""
    attempts, clips = Attempts(), arriving(studio.files.folder)
    ilse, odo = studio.ilse.actor.id, studio.odo.actor.id
    name = clips.begin(ArrivingClip(owner=ilse, length=10, told="{}"))
    for _ in range(times):
        attempts.must_fail("another one's clip on its way", lambda: clips.clip(name, odo))
        bad = rng.choice((_tampered(name, rng), f"../{name}", f"{name}/../{name}", "%2e%2e"))
        attempts.must_fail(f"the upload {bad}", lambda b=bad: clips.clip(b, ilse))
    return attempts


def try_stations(ask: Ask, studio: Studio, times: int, rng: random.Random) -> Attempts:
    """A station's addresses by bad, ended and other people's secrets, and all else by a station's own."""
    attempts = Attempts()
    set_id = new_set(studio.ilse, clip=b"of a station")
    works, ended = (studio.trainer.make_station("leg-extension") for _ in range(2))
    studio.trainer.end_station(signin.hashed(ended))
    with studio.database.write() as session:
        member = signin.make_pass(session, "session", studio.odo.actor.id, 1)
    clip = at_stations(studio.files.folder).begin(ArrivingClip(owner=-1, length=10, told="{}"))
    for _ in range(times):
        path, form = rng.choice(
            (("", None), ("/card", "x"), ("/pain", "{}"), ("/framing", "x"), (f"/set/{clip}", None))
        )
        secret = rng.choice((_tampered(works, rng), ended, member, signin.hashed(works), "x" * 5000))
        attempts.tried += 1
        status, _, body = ask(station.STATION + path, cookie=secret, name=station.KEPT, form=form)
        if status != 401:
            attempts.let_in.append(f"station{path} gave {status}: {body[:40]}")
        path = rng.choice(PATHS).replace("{}", str(rng.choice((set_id, 1, rng.randrange(10_000)))))
        kind = "websocket" if path == "/_stcore/stream" else "http"
        for name in (COOKIE, station.KEPT):
            _must_turn_away(attempts, ask, path, works, kind, name=name)
        attempts.must_fail("a station's secret as a link", lambda: signin.open_link(studio.database, works))
    return attempts


def asker(studio: Studio, folder: Path) -> Ask:
    """The doors with the guard in front, in front of pages and files that answer everyone."""

    def answer(request: Request) -> PlainTextResponse:
        return PlainTextResponse("private")

    behind = Route("/{path:path}", answer)
    routed = Starlette(routes=[*entry.routes(), *station.routes(), behind])
    kept = StudioOfApp(StoreSettings("", folder), studio.database, studio.files)

    def ask(
        path: str, cookie: str | None = None, kind: str = "http", name: str = COOKIE, form: str | None = None
    ) -> tuple[int, dict[str, str], str]:
        headers = {"host": "localhost:8501"}
        if cookie is not None:
            headers["cookie"] = f"{name}={cookie}"
        with ExitStack() as stack:
            for module in (entry, guard, station):
                stack.enter_context(mock.patch.object(module, "this_studio", lambda: kept))
            return asyncio.run(asked_of(guard.Guard(routed), kind, path, headers, form))

    return ask


def _must_turn_away(
    attempts: Attempts, ask: Ask, path: str, cookie: str | None, kind: str, name: str = COOKIE
) -> None:
    attempts.tried += 1
    status, _, body = ask(path, cookie=cookie, kind=kind, name=name)
    if (kind == "websocket" and status != 1008) or status == 200:
        attempts.let_in.append(f"{path} gave {status}: {body[:40]}")
