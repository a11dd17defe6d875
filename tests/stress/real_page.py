"""The real command with its page and worker: sent odd clips, killed at random moments, started again."""

from __future__ import annotations

import io
import os
import random
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

from sqlalchemy import func, select

from app.jobs.queue import GAVE_UP
from app.store.access import Access, NewSet
from app.store.database import open_database
from app.store.files import Files
from app.store.models import Job, TrainingSet
from app.store.rules import Actor
from app.store.verify import verify
from tests.store.made import DAY
from tests.stress.corpus import Odd
from tests.stress.kills import Place, _lapse, prepare

ROOT = Path(__file__).parents[2]
#: So long, in s, the page may take to come up, and so long all clips together.
START_S, ALL_S = 180.0, 7200.0
#: A process lives so long, in s, at most before it is killed.
LONGEST_S = 20.0


@dataclass
class Paged:
    """deaths: times the page or the command ended, or did not answer, without being killed by us."""

    clips: int = 0
    judged: int = 0
    refused: int = 0
    kills: int = 0
    deaths: int = 0
    looks: int = 0
    wrong: list[str] = field(default_factory=list)


class _Command:
    """``plumbset app`` in a group of its own."""

    def __init__(self, place: Place, port: int, workers: int):
        env = {**os.environ, "PLUMBSET_DATA": str(place.folder), "PLUMBSET_DATABASE_URL": place.url}
        command = [sys.executable, "-m", "app.cli", "app", "--port", str(port), "--workers", str(workers)]
        self.address = f"http://127.0.0.1:{port}/_stcore/health"
        self.process = subprocess.Popen(
            command, cwd=ROOT, env=env, stdout=subprocess.DEVNULL, start_new_session=True
        )
        end = time.monotonic() + START_S
        while not self.answers() and self.process.poll() is None and time.monotonic() < end:
            _pause(0.2)

    def answers(self) -> bool:
        """Whether the page is there."""
        try:
            with urllib.request.urlopen(self.address, timeout=60) as answer:
                return bool(answer.status == 200)
        except OSError:
            return False

    def alive(self) -> bool:
        """Whether the command runs and its page answers."""
        return self.process.poll() is None and self.answers()

    def kill(self) -> None:
        """End the command as a power cut would; what it started ends with it."""
        self.process.kill()
        self.process.wait()

    def stop(self) -> None:
        """End it as its operator would."""
        self.process.send_signal(signal.SIGTERM)
        self.process.wait()


def try_page(folder: Path, odd: Iterable[Odd], kills: int, rng: random.Random, workers: int = 2) -> Paged:
    """Send the clips through a second page's way in, look after the page until all are through."""
    place, paged = prepare(f"sqlite:///{folder / 'plumbset.db'}", folder), Paged()
    sent = _send(place, odd)
    paged.clips = len(sent)
    port = _free_port()
    running = _Command(place, port, workers)
    end = time.monotonic() + ALL_S
    while (waiting := _waiting(place)) and time.monotonic() < end:
        if paged.kills < kills:
            _pause(rng.uniform(0, LONGEST_S))
            _look(running, paged)
            running.kill()
            paged.kills += 1
            _lapse(place)
            running = _Command(place, port, workers)
        else:
            _look(running, paged)
            if running.process.poll() is not None:
                running = _Command(place, port, workers)
            _pause(1.0)
    _look(running, paged)
    running.stop()
    if waiting:
        paged.wrong.append(f"{waiting} clips were not through after {ALL_S:.0f} s")
    _hold_against(place, sent, paged, kills)
    return paged


def _send(place: Place, odd: Iterable[Odd]) -> dict[int, bytes]:
    database = open_database(place.url)
    access = Access(database, Files(place.folder / "files"), Actor(1, "Runa", "trainer"))
    sent: dict[int, bytes] = {}
    for one in odd:
        with tempfile.TemporaryDirectory() as work:
            try:
                path = one.make(Path(work))
                clip = path.read_bytes() if path.is_file() and path.stat().st_size < 2e8 else None
            except Exception:  # noqa: BLE001 - this build cannot encode that form
                continue
            if clip is not None:
                name = os.fsencode(path.name).decode("utf-8", "replace")
                told = NewSet(2, "leg-extension", DAY, 30.0)
                set_id, known = access.add_set(told, io.BytesIO(clip), name)
                if not known:
                    sent[set_id] = clip
    database.close()
    return sent


def _look(running: _Command, paged: Paged) -> None:
    paged.looks += 1
    if not running.alive():
        paged.deaths += 1


def _waiting(place: Place) -> int:
    database = open_database(place.url)
    with database.read() as session:
        count = session.scalar(select(func.count()).where(Job.state.in_(("queued", "running")))) or 0
    database.close()
    return count


def _hold_against(place: Place, sent: dict[int, bytes], paged: Paged, kills: int) -> None:
    database, files = open_database(place.url), place.files()
    paged.wrong += verify(database, files).problems
    with database.read() as session:
        sets = {row.id: row for row in session.scalars(select(TrainingSet))}
    for set_id, clip in sent.items():
        row = sets.get(set_id)
        if row is None or files.path(row.clip or "").read_bytes() != clip:
            paged.wrong.append(f"upload {set_id} is lost")
        elif row.status in ("checked", "unfit"):
            paged.judged += 1
        elif row.message.endswith(".") and "Traceback" not in row.message:
            paged.refused += 1
            if row.message == GAVE_UP and not kills:
                paged.wrong.append(f"{row.clip_name!r} was given up")
        else:
            paged.wrong.append(f"{row.clip_name!r}: no clear sentence: {row.message}")
    database.close()


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _pause(seconds: float) -> None:
    threading.Event().wait(seconds)
