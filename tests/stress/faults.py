"""The database server stopped and started under writers, as a power cut would."""

from __future__ import annotations

import multiprocessing
import random
import threading
from pathlib import Path

from app.store.database import open_database
from tests.stress import kills
from tests.stress.kills import Place, Survived


def restart_many(place: Place, restart: object, times: int, rng: random.Random) -> Survived:
    """Let a page and a worker write while the server is restarted under them; nothing may be lost."""
    multiprocessing.set_forkserver_preload(kills.PRELOAD)
    context = multiprocessing.get_context("forkserver")
    survived, running = Survived(), []
    for victim in (kills.writes_like_a_page, kills.writes_like_a_page, worker_that_stays):
        receiver, sender = context.Pipe(duplex=False)
        given = (place.url, str(place.folder), rng.randrange(1 << 30), sender)
        child = context.Process(target=victim, args=given, daemon=True)
        child.start()
        sender.close()
        running.append((child, receiver))
    for _ in range(times):
        _listen(running, place, rng.uniform(0.1, 1.0))
        restart()  # type: ignore[operator]
        survived.kills += 1
    _listen(running, place, 1.0)
    alive = [child.is_alive() for child, _ in running]
    for child, receiver in running:
        child.kill()
        child.join()
        while receiver.poll() and kills._heard(receiver, place):
            pass
    if not all(alive):
        survived.wrong.append("a page or the worker ended when the server was restarted")
    kills._lapse(place)
    kills._finish(place)
    kills._look(place, survived, at_the_end=True)
    return survived


def worker_that_stays(url: str, folder: str, seed: int, sender: object) -> None:
    """The real runner, as ``plumbset app`` starts it."""
    from app.jobs.runner import Runner
    from app.store.settings import StoreSettings

    runner = Runner(StoreSettings(url, Path(folder)), 2, kills.small_check)
    runner.run()


def _listen(running: list, place: Place, seconds: float) -> None:  # type: ignore[type-arg]
    waited = threading.Event()
    for _ in range(max(1, int(seconds / 0.05))):
        waited.wait(0.05)
        for _, receiver in running:
            while receiver.poll() and kills._heard(receiver, place):
                pass


def new_database(base: str, name: str) -> str:
    """Make a database on a server; its URL."""
    admin = open_database(base.replace("NAME", "postgres"))
    with admin.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql(f"CREATE DATABASE {name}")
    admin.close()
    return base.replace("NAME", name)
