"""Runs the fault scripts with counts as arguments and prints what came of them; exit code 1 on any fault."""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path

from app.store.database import migrate, open_database
from tests.store.conftest import Studio
from tests.store.server import Server, postgres_bin, server
from tests.stress import doors, faults, kills
from tests.stress.corpus import corpus
from tests.stress.inputs import try_inputs
from tests.stress.real_page import try_page
from tests.stress.soak import soak

Row = tuple[str, str]


def main() -> int:
    """Run what is asked for."""
    given = _arguments()
    rng, wrong = random.Random(given.seed), []
    parts: dict[str, Callable[[], tuple[list[Row], list[str]]]] = {
        "inputs": lambda: _inputs(given.inputs, given.seed),
        "kills": lambda: _kills(given.kills, given.restarts, rng),
        "page": lambda: _page(given.page, given.page_kills, rng),
        "access": lambda: _access(given.access, rng),
        "jobs": lambda: _soak(given.jobs, rng),
    }
    for name, part in parts.items():
        if getattr(given, name):
            began = time.perf_counter()
            rows, faulty = part()
            wrong += faulty
            for what, figure in [*rows, ("took", f"{time.perf_counter() - began:.0f} s")]:
                print(f"{name:8}{what:52}{figure:>12}", flush=True)
    for sentence in wrong[:50]:
        print(f"WRONG: {sentence}")
    return bool(wrong)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.stress", description=__doc__)
    parser.add_argument("--inputs", type=int, default=600, help="damaged and odd clips")
    parser.add_argument("--kills", type=int, default=300, help="kill -9, on each database")
    parser.add_argument("--restarts", type=int, default=10, help="of PostgreSQL, under its writers")
    parser.add_argument("--page", type=int, default=60, help="odd clips through the real page and worker")
    parser.add_argument("--page-kills", type=int, default=10, help="kill -9 of that command meanwhile")
    parser.add_argument("--access", type=int, default=3000, help="attempts to get at others' data")
    parser.add_argument("--jobs", type=int, default=2000, help="short jobs through the worker")
    parser.add_argument("--seed", type=int, default=1)
    return parser.parse_args()


def _inputs(count: int, seed: int) -> tuple[list[Row], list[str]]:
    tried = try_inputs(corpus(count, seed))
    rows = [
        ("inputs tried", f"{tried.inputs}"),
        ("of these judged", f"{tried.judged}"),
        ("refused in one clear sentence", f"{tried.refused}"),
        ("forms this build cannot encode, not tried", f"{tried.not_made}"),
        ("crashes and failures of ours", f"{tried.crashes}"),
        ("hangs over the bound of 60 s", f"{tried.hangs}"),
        ("worst time", f"{tried.worst_s:.1f} s"),
        ("worst memory", f"{tried.worst_mb:.0f} MB"),
    ]
    return rows, [f"{name}: {said}" for name, said in tried.bad.items()]


def _kills(count: int, restarts: int, rng: random.Random) -> tuple[list[Row], list[str]]:
    rows: list[Row] = []
    wrong: list[str] = []
    tools = postgres_bin()
    with server(tools, sync=True) if tools else nullcontext(None) as running:
        for name, url_of in _databases(running):
            with _folder() as folder:
                survived = kills.kill_many(kills.prepare(url_of(folder), folder), count, rng)
                rows += _survived_rows(f"kills survived, {name}", survived)
                wrong += survived.wrong
                print(f"kills   {name}: {survived.kills} survived, {survived.lost} lost", flush=True)
        if running is None:
            rows.append(("PostgreSQL is not installed, not tried", "-"))
        elif restarts:
            with _folder() as folder:
                place = kills.prepare(faults.new_database(running.base, "restarted"), folder)
                survived = faults.restart_many(place, running.restart, restarts, rng)
                rows += _survived_rows("PostgreSQL stopped and started under writers", survived)
                wrong += survived.wrong
    return rows, wrong


def _databases(running: Server | None) -> Iterator[tuple[str, Callable[[Path], str]]]:
    yield "SQLite", lambda folder: f"sqlite:///{folder / 'plumbset.db'}"
    if running is not None:
        yield "PostgreSQL", lambda _: faults.new_database(running.base, "killed")


def _survived_rows(what: str, survived: kills.Survived) -> list[Row]:
    return [
        (what, f"{survived.kills}"),
        ("  uploads, decisions, notes acknowledged", f"{survived.acknowledged}"),
        ("  lost", f"{survived.lost}"),
        ("  jobs lost, or run twice to completion", f"{len(survived.wrong) - survived.lost}"),
    ]


def _page(count: int, kills: int, rng: random.Random) -> tuple[list[Row], list[str]]:
    odd = list(corpus(600))
    with _folder() as folder:
        paged = try_page(folder, rng.sample(odd, count), kills, rng)
    rows = [
        ("odd clips sent to the real page", f"{paged.clips}"),
        ("judged, refused in one clear sentence", f"{paged.judged}, {paged.refused}"),
        ("kill -9 of the command meanwhile", f"{paged.kills}"),
        ("times the page was looked at", f"{paged.looks}"),
        ("page deaths that were not our kills", f"{paged.deaths}"),
        ("clips lost or left without an answer", f"{len(paged.wrong)}"),
    ]
    return rows, paged.wrong + ([f"the page died {paged.deaths} times"] if paged.deaths else [])


def _access(count: int, rng: random.Random) -> tuple[list[Row], list[str]]:
    with _folder() as folder:
        database = open_database(f"sqlite:///{folder / 'plumbset.db'}")
        migrate(database)
        studio = Studio(database, folder / "files")
        tried = [
            doors.try_store(studio, count // 3, rng),
            doors.try_addresses(doors.asker(studio, folder), studio, count // 6, rng),
            doors.try_sessions(studio, count // 12, rng),
            doors.try_uploads(studio, count // 12, rng),
            doors.try_stations(doors.asker(studio, folder), studio, count // 12, rng),
        ]
        database.close()
    let_in = [sentence for t in tried for sentence in t.let_in]
    return [("attempts tried", f"{sum(t.tried for t in tried)}"), ("let through", f"{len(let_in)}")], let_in


def _soak(jobs: int, rng: random.Random) -> tuple[list[Row], list[str]]:
    with _folder() as folder:
        soaked = soak(f"sqlite:///{folder / 'plumbset.db'}", folder, jobs, rng)
    rows = [
        ("jobs soaked", f"{soaked.jobs}"),
        ("of these crashed on purpose, told in one sentence", f"{soaked.crashed}"),
        ("not ended", f"{soaked.not_ended}"),
        ("memory of the runner after a tenth, at the end", f"{soaked.start_mb:.0f}, {soaked.end_mb:.0f} MB"),
        ("growth", f"{soaked.growth_mb:.1f} MB"),
    ]
    wrong = [f"{soaked.not_ended} jobs did not end"] if soaked.not_ended else []
    if soaked.crashed != jobs // 10:
        wrong.append(f"{soaked.crashed} crashes were told instead of {jobs // 10}")
    return rows, wrong + (["the runner's memory grew"] if soaked.growth_mb > 50 else [])


@contextmanager
def _folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="stress-", ignore_cleanup_errors=True) as folder:
        yield Path(folder)


if __name__ == "__main__":
    sys.exit(main())
