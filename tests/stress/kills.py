"""Kill -9 at random moments: what was acknowledged must be there, whole, and once."""

from __future__ import annotations

import hashlib
import io
import json
import multiprocessing
import random
import threading
import time
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from unittest.mock import patch

from sqlalchemy import func, select

from app.jobs import queue, worker
from app.jobs.runner import Runner
from app.rules import told
from app.store.access import Access, NewSet
from app.store.backup import backup
from app.store.database import Database, StoreTrouble, migrate, open_database
from app.store.files import Files
from app.store.models import Card, Decision, Job, Person, Report, TrainingSet, now
from app.store.restore import restore
from app.store.rules import Actor
from app.store.settings import StoreSettings
from app.store.verify import verify
from shared.errors import UsageError
from shared.report import SetReport
from tests.store.made import DAY, report
from tests.unit.handmade import analysis
from vision.telling.write import write_outputs

PRELOAD = ["tests.stress.kills", "vision.telling.write"]
#: The last chunk of a whole PNG (ISO/IEC 15948, IEND).
PNG_END = b"IEND\xaeB`\x82"
#: A victim lives until it has told so much at most, on a slow machine so long, in s, at most.
MOST_TOLD, LONGEST_S = 12, 10.0
#: Then it is killed within so many s: while it waits, writes, or tells.
THEN_S = 0.1
#: At the end a set is tried so often, and the end of a check is written down for so many s.
MOST_TRIES, PATIENCE_S = 3, 20.0


@dataclass
class Survived:
    """What came of all kills. wrong: sentences about what broke a promise."""

    kills: int = 0
    acknowledged: int = 0
    lost: int = 0
    wrong: list[str] = field(default_factory=list)


@dataclass
class Place:
    """A store that is written to while its writers are killed."""

    url: str
    folder: Path
    acks: list[tuple[Any, ...]] = field(default_factory=list)

    def settings(self) -> StoreSettings:
        """As the page and its worker know it."""
        return StoreSettings(self.url, self.folder)

    def files(self) -> Files:
        """The files beside the database."""
        return Files(self.folder / "files")


def prepare(url: str, folder: Path) -> Place:
    """A migrated store with a trainer and a member."""
    place = Place(url, folder)
    database = open_database(url)
    migrate(database)
    with database.write() as session:
        joined = datetime(DAY.year, DAY.month, DAY.day, tzinfo=UTC)
        ilse = Person(name="Ilse", role="member", created_at=joined, consent_at=joined)
        session.add_all([Person(name="Runa", role="trainer"), ilse])
    database.close()
    return place


def writes_like_a_page(url: str, folder: str, seed: int, sender: Connection) -> None:
    """Uploads, decisions, notes and cards without end; each is told only when the store has taken it."""
    database, rng, number = open_database(url), random.Random(seed), 0
    access = Access(database, Files(Path(folder) / "files"), Actor(1, "Runa", "trainer"))
    sender.send(("ready",))
    while True:
        number += 1
        try:
            access.clear_pain(2, access.pain(2).last)
            clip = rng.randbytes(rng.choice((10, 2_000, 200_000)))
            set_id, _ = access.add_set(NewSet(2, "leg-extension", DAY, 30.0), io.BytesIO(clip), "a.mov")
            sender.send(("clip", set_id, hashlib.sha256(clip).hexdigest()))
            words = f"note {seed} {number}"
            access.decide(set_id, [told.NOTE], "note", words)
            sender.send(("note", set_id, words))
            access.save_card(2, "leg-curl", limits=f"{seed} {number}")
            sender.send(("card", seed, number))
            access.after_set(set_id, "hard", True, words)
            sender.send(("pain", set_id, words))
        except Exception:  # noqa: BLE001 - the database is away: nothing was acknowledged
            database.close()


def small_check(job: queue.Claimed, files: Files, folder: Path, say: Callable[..., None]) -> queue.Outcome:
    """Stands in for the judging: reads the clip, writes files, gives a report."""
    data = files.path(job.clip).read_bytes()
    say("Following the set", 0.5)
    drawn = files.keep(io.BytesIO(b"drawn" + data))
    return queue.Outcome(report(), annotated=drawn, page=drawn, pictures=(("knee-lockout:4", drawn),))


def works_like_a_worker(url: str, folder: str, seed: int, sender: Connection) -> None:
    """Takes jobs and ends them, without end."""
    runner = Runner(StoreSettings(url, Path(folder)), 2, small_check)
    sender.send(("ready",))
    while True:
        runner.step()
        sender.send(("step",))


def writes_like_a_batch(url: str, folder: str, seed: int, sender: Connection) -> None:
    """Writes reports into folders, over and over."""
    made, number = analysis(), 0
    sender.send(("ready",))
    while True:
        number += 1
        out = Path(folder) / "batch" / str(number % 3)
        write_outputs(_NoClip(), made, out)  # type: ignore[arg-type]
        sender.send(("folder", str(out)))


class _NoClip:
    """A clip whose pictures are gone: the numbers are written all the same."""

    clip = analysis().clip

    def frames(self, *_: float, **__: float) -> Any:
        """Nothing."""
        return iter(())


def makes_backups(url: str, folder: str, seed: int, sender: Connection) -> None:
    """Makes the same backup again and again."""
    database = open_database(url)
    sender.send(("ready",))
    while True:
        with suppress(UsageError):  # the other one is at it
            backup(database, Files(Path(folder) / "files"), Path(folder) / "backup")
        sender.send(("backup",))


VICTIMS: list[tuple[Callable[..., None], int]] = [
    (writes_like_a_page, 5), (works_like_a_worker, 4), (writes_like_a_batch, 1), (makes_backups, 1),
]  # fmt: skip


def kill_many(place: Place, kills: int, rng: random.Random, check_every: int = 25) -> Survived:
    """Start writers, kill them at random moments, look at what is left."""
    multiprocessing.set_forkserver_preload(PRELOAD)
    survived, victims = Survived(), [v for v, weight in VICTIMS for _ in range(weight)]
    order = [victims[i % len(victims)] for i in range(kills)]
    rng.shuffle(order)
    while order:
        together, order = order[:2], order[2:]  # two at a time: two pages, or a page and a worker
        survived.kills += _round(place, together, rng)
        if survived.kills % check_every < 2:
            _look(place, survived)
    survived.wrong += _finish(place)
    _look(place, survived, at_the_end=True)
    return survived


def _round(place: Place, victims: list[Callable[..., None]], rng: random.Random) -> int:
    context = multiprocessing.get_context("forkserver")
    running = []
    for victim in victims:
        receiver, sender = context.Pipe(duplex=False)
        given = (place.url, str(place.folder), rng.randrange(1 << 30), sender)
        child = context.Process(target=victim, args=given, daemon=True)
        child.start()
        sender.close()
        running.append((child, receiver))
    killed = 0
    for child, receiver in running:
        if rng.random() < 0.8:  # else in the middle of its start
            _heard(receiver, place)
        wanted, end = rng.randrange(MOST_TOLD), time.monotonic() + LONGEST_S
        while wanted and receiver.poll(max(0.0, end - time.monotonic())) and _heard(receiver, place):
            wanted -= 1
        end = time.monotonic() + rng.uniform(0, THEN_S)
        while receiver.poll(max(0.0, end - time.monotonic())) and _heard(receiver, place):
            if time.monotonic() > end:
                break
        killed += child.is_alive()
        child.kill()
        child.join()
        while receiver.poll() and _heard(receiver, place):
            pass
        receiver.close()
    _lapse(place)
    return killed


def _heard(receiver: Connection, place: Place) -> bool:
    try:
        said = receiver.recv()
    except (EOFError, OSError):
        return False
    if said[0] not in ("ready", "step", "backup"):
        place.acks.append(said)
    return True


def _lapse(place: Place) -> None:
    """Let the minute pass after which a dead worker's job is taken up again."""
    database = open_database(place.url)
    with database.write() as session:
        for job in session.scalars(select(Job).where(Job.state == "running")):
            job.lease_until = now() - timedelta(seconds=1)
    database.close()


def _finish(place: Place) -> list[str]:
    """Restart as an operator would: everything that waits is checked, what was given up is tried again.

    Returns a sentence for each set that does not end even so: a write that fails, fails for good.
    """
    runner = Runner(place.settings(), 2, small_check)
    database = open_database(place.url)
    try:
        with patch.object(worker, "PATIENCE_S", PATIENCE_S):
            return _ended(database, Access(database, place.files(), Actor(1, "Runa", "trainer")), runner)
    except StoreTrouble as trouble:
        return [f"what waits cannot be ended: {trouble}"]
    finally:
        runner.close()
        database.close()


def _ended(database: Database, access: Access, runner: Runner) -> list[str]:
    given_up = select(TrainingSet.id).where(TrainingSet.message == queue.GAVE_UP)
    waiting = select(func.count()).where(Job.state.in_(("queued", "running")))
    tried: Counter[int] = Counter()
    while True:
        runner.step()
        with database.read() as session:
            busy, failed = session.scalar(waiting), list(session.scalars(given_up))
        again = [set_id for set_id in failed if tried[set_id] < MOST_TRIES]
        if not (busy or again):
            return [f"set {set_id} was tried {MOST_TRIES} times and does not end" for set_id in failed]
        for set_id in again:
            tried[set_id] += 1
            access.try_again(set_id)
        threading.Event().wait(0.01)


def _look(place: Place, survived: Survived, at_the_end: bool = False) -> None:
    database = open_database(place.url)
    files = place.files()
    found = verify(database, files, read_files=at_the_end)
    survived.wrong += found.problems
    survived.acknowledged = len(place.acks)
    lost = _lost(database, files, place.acks) + _half_written(place)
    survived.lost += len(lost)
    survived.wrong += lost
    if at_the_end:
        survived.wrong += _not_once(database)
        survived.wrong += _backup_is_whole(place)
    database.close()


def _lost(database: Database, files: Files, acks: list[tuple[Any, ...]]) -> list[str]:
    lost = []
    with database.read() as session:
        sets = {s.id: s for s in session.scalars(select(TrainingSet))}
        notes = {(d.set_id, d.words) for d in session.scalars(select(Decision))}
        card = session.scalars(select(Card)).first()
    cards = [f"{a[1]} {a[2]}" for a in acks if a[0] == "card"]
    for kind, *said in acks:
        row = sets.get(said[0]) if kind in ("clip", "pain") else None
        if kind == "clip" and (row is None or row.clip != said[1] or not files.there(said[1])):
            lost.append(f"upload {said[0]} is lost")
        if kind == "pain" and (row is None or row.pain_where != said[1] or not row.pain):
            lost.append(f"pain of set {said[0]} is lost")
        if kind == "note" and tuple(said) not in notes:
            lost.append(f"note of set {said[0]} is lost")
    if cards and (card is None or not card.limits):
        lost.append("the card is lost")
    return lost


def _not_once(database: Database) -> list[str]:
    with database.read() as session:
        reports = dict(session.execute(select(Report.set_id, func.count()).group_by(Report.set_id)).all())
        sets = list(session.scalars(select(TrainingSet)))
    wrong = [f"set {s.id} was judged {n} times" for s in sets if (n := reports.get(s.id, 0)) != 1]
    return wrong + [f"set {s.id} is {s.status}" for s in sets if s.status not in ("checked", "unfit")]


def _half_written(place: Place) -> list[str]:
    wrong = []
    for folder in (place.folder / "batch").glob("*"):
        wrong += [f"{path.name} is half-written" for path in folder.glob("[!.]*") if not _is_whole(path)]
    told_whole = {a[1] for a in place.acks if a[0] == "folder"}
    names = ("report.json", "report.html", "reps.csv", "signals.csv")
    return wrong + [f"{n} is lost" for f in told_whole for n in names if not (Path(f) / n).is_file()]


def _is_whole(path: Path) -> bool:
    if path.suffix == ".png":
        return path.read_bytes().endswith(PNG_END)
    text = path.read_text(encoding="utf-8")
    whole = {"report.json": _is_report, "report.html": lambda t: t.rstrip().endswith("</html>")}
    return whole.get(path.name, lambda t: t.endswith("\n"))(text)


def _is_report(text: str) -> bool:
    try:
        SetReport.from_json(text)
    except (ValueError, json.JSONDecodeError):
        return False
    return True


def _backup_is_whole(place: Place) -> list[str]:
    """The backup whose writer was killed is the last whole one; it comes back."""
    folder = place.folder / "backup"
    if not (folder / "store.db").is_file():
        return []
    back = open_database(f"sqlite:///{place.folder / 'back' / 'plumbset.db'}")
    files = Files(place.folder / "back" / "files")
    try:
        restore(folder, back, files)
        return list(verify(back, files).problems)
    except Exception as error:  # noqa: BLE001 - counted, not raised
        return [f"the backup does not come back: {error}"]
    finally:
        back.close()
