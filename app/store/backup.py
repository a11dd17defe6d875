"""The store as a folder to put away: the same form whichever database the store runs on.

A backup holds ``store.db`` (SQLite, one consistent state, no sessions, links or codes), ``files/`` and
``backup.json``. Made again into the same folder it reads what lies there, keeps what is sound, adds what is
new and drops what is gone. With a key all but ``backup.json`` is sealed (``sealed.py``).
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import delete, func, insert, select
from sqlalchemy.orm import Session

from app.store.belongings import referenced
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Pass, Person, Throttle, TrainingSet, now
from app.store.sealed import Seal, SealedFiles
from app.store.tables import Base
from shared.errors import InternalError, UsageError

STORE, FILES, ABOUT = "store.db", "files", "backup.json"
#: What lets someone in, or keeps them out, is in no backup and comes back from none.
NOT_KEPT = (Pass, Throttle)
_ROWS = 500


@dataclass(frozen=True)
class Kept:
    """How much was kept; problems: a sentence for each file that is missing or damaged where it came from.

    erased: the numbers of members who came back with a backup and were erased again.
    """

    people: int
    sets: int
    files: int
    problems: tuple[str, ...] = ()
    erased: tuple[int, ...] = ()


def backup(database: Database, files: Files, folder: Path, seal: Seal | None = None) -> Kept:
    """Put one consistent state of the store into a folder, while it is in use.

    Raises
    ------
    UsageError : the folder holds something else, or cannot be written to.
    """
    _check_target(folder)
    if seal is None and is_sealed(folder):
        raise UsageError(f"The backup in {folder.name} is sealed; name its key, or choose another folder.")
    try:
        (folder / FILES).mkdir(parents=True, exist_ok=True, mode=0o700)
        with _alone(folder), tempfile.TemporaryDirectory(prefix="plumbset-") as work:
            snapshot = Path(work) / STORE
            _snapshot(database, snapshot)
            return _write(snapshot, files, folder, seal)
    except (OSError, sqlite3.Error) as error:
        raise UsageError(
            f"The backup could not be written ({getattr(error, 'strerror', None) or type(error).__name__}); "
            "choose another folder, or free some space."
        ) from error


def is_sealed(folder: Path) -> bool:
    """Whether a folder holds a backup that was made with a key."""
    try:
        return bool(json.loads((folder / ABOUT).read_text(encoding="utf-8")).get("sealed"))
    except (OSError, ValueError, AttributeError):
        return False


def files_in(folder: Path, seal: Seal | None) -> Files:
    """The files of a backup."""
    return Files(folder / FILES) if seal is None else SealedFiles(folder / FILES, seal)


def _write(snapshot: Path, files: Files, folder: Path, seal: Seal | None) -> Kept:
    for left in (*folder.glob(".part-*"), *(folder / FILES).glob(".part-*")):
        left.unlink()
    kept = _copy_files(snapshot, files, files_in(folder, seal))
    part = folder / f".part-{STORE}"
    with snapshot.open("rb") as whole, part.open("wb") as out:
        shutil.copyfileobj(whole, out) if seal is None else seal.close(whole, out)
        out.flush()
        os.fsync(out.fileno())
    part.chmod(0o600)
    part.replace(folder / STORE)
    about = {"made_at": now().isoformat(), "people": kept.people, "sets": kept.sets, "files": kept.files}
    (folder / ABOUT).write_text(json.dumps({**about, "sealed": seal is not None}, indent=1), encoding="utf-8")
    return kept


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep a second backup out of the same folder; the lock ends with the process, however that ends."""
    if sys.platform == "win32":
        yield
        return
    import fcntl

    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError as error:
        raise UsageError("Another backup into this folder is under way; wait for its end.") from error
    finally:
        os.close(handle)


def _check_target(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder.name} is a file; choose a folder for the backup.")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / ABOUT).exists():
        names = {p.name for p in folder.iterdir() if not p.name.startswith(".part-")}
        if not names <= {FILES, STORE}:
            raise UsageError(f"{folder.name} holds something else; choose an empty folder for the backup.")


def _snapshot(database: Database, part: Path) -> None:
    if database.engine.dialect.name == "sqlite":
        with database.engine.connect() as source, sqlite3.connect(part) as target:
            source.connection.driver_connection.backup(target)  # type: ignore[union-attr]
        target.close()
    made = open_database(f"sqlite:///{part}")
    try:
        if database.engine.dialect.name != "sqlite":
            migrate(made)
            whole = database.engine.execution_options(isolation_level="REPEATABLE READ")
            with Session(whole) as read, made.write() as written:
                copy_rows(read, written)
        with made.write() as session:
            for kind in NOT_KEPT:
                session.execute(delete(kind))
        with made.engine.connect() as connection:
            raw = connection.connection.driver_connection
            for command in ("VACUUM", "PRAGMA journal_mode=DELETE"):
                raw.execute(command)  # type: ignore[union-attr]
    finally:
        made.close()


def copy_rows(source: Session, target: Session) -> None:
    """Copy all rows but of what lets someone in."""
    for table in Base.metadata.sorted_tables:
        if table in [kind.__table__ for kind in NOT_KEPT]:
            continue
        rows = source.execute(select(table)).mappings()
        for some in rows.partitions(_ROWS):
            target.execute(insert(table), [dict(row) for row in some])


def _copy_files(snapshot: Path, source: Files, target: Files) -> Kept:
    made = open_database(f"sqlite:///{snapshot}")
    try:
        with made.read() as session:
            wanted = referenced(session)
            people, sets = counted(session)
    finally:
        made.close()
    problems = tuple(copy_sound(wanted, source, target, "the data folder"))
    for address in [a for a in target.addresses() if a not in wanted]:
        target.drop(address)
    return Kept(people, sets, files=sum(target.there(a) for a in wanted), problems=problems)


def copy_sound(wanted: Mapping[str, int], source: Files, target: Files, where: str) -> Iterator[str]:
    """Copy what is wanted and not there yet; a sentence for each file that the source lacks.

    What lies in the target already is read and held against its address before it is trusted.
    wanted: the addresses, each with a set that it belongs to; where: the source, in words.
    """
    for address, set_id in wanted.items():
        there = target.sound(address)
        if not there:
            target.drop(address)
        if source.sound(address) if there else _copied(address, source, target):
            continue
        what = "is not what was kept" if source.there(address) else "is missing"
        more = "; an earlier copy is kept" if there else ""
        yield f"Set {set_id}: the file {address[:12]} in {where} {what}{more}."


def _copied(address: str, source: Files, target: Files) -> bool:
    try:
        stream = source.open(address)
    except (InternalError, OSError):
        return False
    with stream:
        kept = target.keep(stream)
    if kept != address:
        target.drop(kept)
    return kept == address


def counted(session: Session) -> tuple[int, int]:
    """How many people and sets there are."""
    people, sets = (session.scalar(select(func.count()).select_from(t)) for t in (Person, TrainingSet))
    return people or 0, sets or 0
