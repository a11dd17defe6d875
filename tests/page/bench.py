"""How long the pages and their lists take with 500 members and 20,000 sets: ``make bench-page``.

Prints the fastest and the middle one of some runs, in ms, on SQLite and, where there is one, on
PostgreSQL, and what the cores spent on it in this process: that hardly changes on a busy machine.
Measures, is no test: it fails only where a page or a list takes longer than it may in the fastest run.
"""

from __future__ import annotations

import argparse
import logging
import os
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import insert

from app.page.studio import Studio
from app.rules.told import released
from app.rules.worry import worry_of
from app.store.access import Access
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Card, Decision, Done, Job, Person, Release, Report, TrainingSet
from app.store.rules import Actor
from app.store.settings import StoreSettings
from shared.exercise import exercise_names
from tests.store.made import report
from tests.store.server import postgres_bin, server

PAGE_MS, LIST_MS = 300.0, 30.0
NOW = datetime.now(UTC)
TODAY = NOW.date()
Spent = tuple[float, float, float]


def main() -> int:
    """Fill a store, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--members", type=int, default=500)
    parser.add_argument("--sets", type=int, default=20_000)
    parser.add_argument("--runs", type=int, default=15)
    parser.add_argument("--only", choices=["sqlite", "postgresql"])
    given = parser.parse_args()
    logging.getLogger("streamlit").setLevel(logging.ERROR)  # the pages run without their server here
    slow: list[str] = []
    for name, database in _databases(given.only):
        with tempfile.TemporaryDirectory() as folder:
            started = time.perf_counter()
            fill(database, given.members, given.sets)
            print(f"\n{name}: {given.members} members, {given.sets} sets", end=" ")
            print(f"(filled in {time.perf_counter() - started:.0f} s, load {os.getloadavg()[0]:.0f})")
            print(f"  {'':<36}{'fastest':>8}{'middle':>8}{'cores':>8}")
            studio = Studio(StoreSettings("", Path(folder)), database, Files(Path(folder)))
            slow += [f"{name} {what}" for what in _measure(studio, given.members, given.runs)]
    for what in slow:
        print(f"too slow: {what}")
    return 1 if slow else 0


def _databases(only: str | None) -> Iterator[tuple[str, Database]]:
    if only != "postgresql":
        with tempfile.TemporaryDirectory() as folder, _open(f"sqlite:///{folder}/bench.db") as database:
            yield "SQLite", database
    tools = postgres_bin()
    if only == "sqlite" or tools is None:
        print("PostgreSQL: not measured" + ("" if only else ", there is none here"))
        return
    with server(tools) as running, _open(running.base.replace("NAME", "postgres")) as database:
        yield "PostgreSQL", database


@contextmanager
def _open(url: str) -> Iterator[Database]:
    database = open_database(url)
    migrate(database)
    try:
        yield database
    finally:
        database.close()


def fill(database: Database, members: int, sets: int) -> None:
    """One trainer, members with cards, and their sets over the past months; one set in fifty waits."""
    names = exercise_names()
    with database.write() as session:
        people = [{"name": "Runa", "role": "trainer"}]
        people += [{"name": f"Member {i:03}", "role": "member"} for i in range(members)]
        session.execute(insert(Person), [{**p, "beginner": False, "active": True} for p in people])
        cards = [{"person_id": 2 + i, "exercise": n, "seat": "4"} for i in range(members) for n in names]
        session.execute(insert(Card), cards)
        done = [{"person_id": 2 + i, "exercise": names[0], "day": TODAY} for i in range(members)]
        session.execute(insert(Done), done)
    for start in range(0, sets, 2000):
        with database.write() as session:
            for table, rows in _rows(range(start, min(start + 2000, sets)), members).items():
                session.execute(insert(table), rows)
    _settle(database)


def _settle(database: Database) -> None:
    """What PostgreSQL does by itself after a while: look at what the tables hold."""
    if database.engine.dialect.name == "postgresql":
        with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
            connection.exec_driver_sql("VACUUM ANALYZE")


def _rows(numbers: range, members: int) -> dict[Any, list[dict[str, Any]]]:
    said, names = report(), exercise_names()
    body, handed = said.to_json(), released(said, {}, False, "Runa").to_json()
    worry = worry_of(said, "checked", False)
    out: dict[Any, list[dict[str, Any]]] = {t: [] for t in (TrainingSet, Report, Decision, Release, Job)}
    for i in numbers:
        at, waits = NOW - timedelta(hours=i), i % 50 == 0
        out[TrainingSet].append(
            {
                "id": i + 1, "person_id": 2 + i % members, "exercise": names[(i // members) % len(names)],
                "clip": f"{i:064x}", "load": 30.0, "done_on": at.date(), "uploaded_at": at,
                "count": said.count, "status": "checked", "worry": worry.rank, "worry_words": worry.words,
                "reviewed_at": None if waits else at,
            }
        )  # fmt: skip
        out[Report].append({"set_id": i + 1, "body": body})
        out[Job].append({"set_id": i + 1, "state": "done"})
        if not waits:
            out[Release].append({"set_id": i + 1, "body": handed, "by_id": 1})
            kinds = ("agree", "reword", "no-fault")
            out[Decision] += [
                {"set_id": i + 1, "finding": key, "kind": kinds[i % 3], "words": "", "by_id": 1}
                for key in ("knee-lockout:4", "knee-lockout:9")
            ]
    return out


def _measure(studio: Studio, members: int, runs: int) -> Iterator[str]:
    """Print each list and page; yields those that took too long."""
    trainer, member = studio.access(Actor(1, "Runa", "trainer")), studio.access(Actor(2, "", "member"))
    last = trainer.sets(2, most=1)[0].id
    lists: dict[str, Callable[[], object]] = {
        "waiting sets": trainer.waiting,
        "members": trainer.members,
        "sets of a member": lambda: trainer.sets(2, most=51),
        "circuit of the day": lambda: trainer.circuit(2, TODAY),
        "links": lambda: trainer.links(2),
    }
    pages: list[tuple[str, Access, dict[str, str]]] = [
        ("waiting", trainer, {}),
        ("members", trainer, {}),
        ("members", trainer, {"person": "2"}),
        ("review", trainer, {"set": str(last)}),
        ("tempo", trainer, {"person": "2"}),
        ("film", trainer, {}),
        ("account", trainer, {}),
        ("today", member, {}),
        ("film", member, {}),
        ("results", member, {}),
        ("results", member, {"set": str(last)}),
        ("tempo", member, {}),
    ]
    for name, call in lists.items():
        yield from _told(f"list: {name}", _timed(call, runs), LIST_MS)
    for screen, access, query in pages:
        name = f"page: {access.actor.role}, {screen}{' of one' if query else ''}"
        yield from _told(name, _page(studio, access, screen, query, runs), PAGE_MS)


def _told(name: str, spent: Spent, most: float) -> Iterator[str]:
    print(f"  {name:<36}{spent[0]:8.1f}{spent[1]:8.1f}{spent[2]:8.1f} ms   (at most {most:.0f})", flush=True)
    if spent[0] > most:
        yield name


def _timed(call: Callable[[], object], runs: int) -> Spent:
    """The fastest and the middle run, and the middle one of what the cores spent here, in ms."""
    call()
    spent, cores = [], []
    for _ in range(runs):
        start, worked = time.perf_counter(), time.process_time()
        call()
        spent.append(1000 * (time.perf_counter() - start))
        cores.append(1000 * (time.process_time() - worked))
    return min(spent), statistics.median(spent), statistics.median(cores)


def _page(studio: Studio, access: Access, screen: str, query: dict[str, str], runs: int) -> Spent:
    from streamlit.testing.v1 import AppTest

    from app.views import asking, clip

    asking.this_studio = lambda: studio
    asking.acting = lambda *_: access.actor
    clip.desk, clip.loops, clip.marks = lambda data, key: [], lambda *_, **__: None, lambda *_, **__: []
    page = AppTest.from_function(_screen, args=(screen,), default_timeout=60)
    for key, value in query.items():
        page.query_params[key] = value
    spent = _timed(page.run, runs)
    if page.exception:
        raise SystemExit(f"{screen}: {page.exception[0].value}")
    return spent


def _screen(name: str) -> None:
    import importlib
    from collections import defaultdict

    import streamlit as st

    shown = importlib.import_module(f"app.views.{name}")
    page = st.Page(shown.show, title=name, url_path=name)
    st.navigation([page], position="hidden")
    st.session_state["pages"] = defaultdict(lambda: page)
    shown.show()


if __name__ == "__main__":
    sys.exit(main())
