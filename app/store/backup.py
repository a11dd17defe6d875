"""The store as a folder to put away, and back: the same form whichever database the store runs on.

A backup holds ``store.db`` (SQLite, one consistent state, no sessions, links or codes), ``files/`` and
``backup.json``. Made again into the same folder it only adds what is new and drops what is gone.
"""

from __future__ import annotations

import json
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from alembic.util.exc import CommandError
from sqlalchemy import Table, delete, func, insert, select, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from app.store.belongings import referenced
from app.store.database import Database, StoreTrouble, migrate, open_database
from app.store.files import Files
from app.store.models import Base, Pass, Person, Throttle, TrainingSet, now
from app.store.retention import ERASED, erase, erased
from app.store.verify import verify
from shared.errors import UsageError

STORE, FILES, ABOUT = "store.db", "files", "backup.json"
_ROWS = 500


@dataclass(frozen=True)
class Kept:
    """How much a backup holds; missing: files the store points at that were not there."""

    people: int
    sets: int
    files: int
    missing: int = 0


def backup(database: Database, files: Files, folder: Path) -> Kept:
    """Put one consistent state of the store into a folder, while it is in use.

    Raises
    ------
    UsageError : the folder holds something else, or cannot be written to.
    """
    _check_target(folder)
    try:
        (folder / FILES).mkdir(parents=True, exist_ok=True, mode=0o700)
        with _alone(folder):
            return _write(database, files, folder)
    except (OSError, sqlite3.Error) as error:
        raise UsageError(
            f"The backup could not be written ({getattr(error, 'strerror', None) or type(error).__name__}); "
            "choose another folder, or free some space."
        ) from error


def _write(database: Database, files: Files, folder: Path) -> Kept:
    part = folder / f".part-{STORE}"
    for left in folder.glob(f"{part.name}*"):
        left.unlink()
    _snapshot(database, part)
    kept = _copy_files(part, files, Files(folder / FILES))
    part.replace(folder / STORE)
    about = {"made_at": now().isoformat(), "people": kept.people, "sets": kept.sets, "files": kept.files}
    (folder / ABOUT).write_text(json.dumps(about, indent=1), encoding="utf-8")
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
                _copy_rows(read, written)
        with made.write() as session:
            session.execute(delete(Pass))
            session.execute(delete(Throttle))
        with made.engine.connect() as connection:
            raw = connection.connection.driver_connection
            for command in ("VACUUM", "PRAGMA journal_mode=DELETE"):
                raw.execute(command)  # type: ignore[union-attr]
    finally:
        made.close()
    part.chmod(0o600)


def _copy_rows(source: Session, target: Session) -> None:
    for table in Base.metadata.sorted_tables:
        rows = source.execute(select(table)).mappings()
        for some in rows.partitions(_ROWS):
            target.execute(insert(table), [dict(row) for row in some])


def _copy_files(part: Path, source: Files, target: Files) -> Kept:
    made = open_database(f"sqlite:///{part}")
    try:
        with made.read() as session:
            wanted = referenced(session)
            people, sets = (
                session.scalar(select(func.count()).select_from(t)) for t in (Person, TrainingSet)
            )
    finally:
        made.close()
    missing = 0
    for address in wanted:
        if target.there(address):
            continue
        if not source.there(address):
            missing += 1
            continue
        with source.path(address).open("rb") as stream:
            target.keep(stream)
    for address in [a for a in target.addresses() if a not in wanted]:
        target.drop(address)
    return Kept(people or 0, sets or 0, files=len(wanted) - missing, missing=missing)


def restore(folder: Path, database: Database, files: Files, replace: bool = False) -> Kept:
    """Put a backup in the store's place, all of it or nothing; the backup is checked first.

    Sessions and links are not restored. Members erased since the backup was made are erased again.

    Raises
    ------
    UsageError : it is no backup, is damaged or of a later version, or the store is not empty.
    """
    if not (folder / STORE).is_file():
        raise UsageError(f"{folder.name} holds no backup; name the folder that plumbset backup wrote.")
    migrate(database)
    with database.read() as session:
        gone = [p.id for p in session.scalars(select(Person)) if erased(p)]
        if not replace and session.scalar(select(func.count()).select_from(Person)):
            raise UsageError("The store is not empty; --replace puts the backup in its place.")
    with tempfile.TemporaryDirectory(prefix="plumbset-") as work:
        copied = Path(work) / STORE
        shutil.copy(folder / STORE, copied)
        made = _checked(copied, Files(folder / FILES))
        try:
            kept = _put_back(made, Files(folder / FILES), database=database, files=files)
        finally:
            made.close()
    for person_id in gone:
        _erase_again(database, files, person_id)
    return kept


def _checked(copied: Path, kept: Files) -> Database:
    made = open_database(f"sqlite:///{copied}")
    try:
        migrate(made)
        problems = verify(made, kept).problems
    except (CommandError, DatabaseError, StoreTrouble) as error:
        made.close()
        raise UsageError("The backup is damaged, or was made by a later version of Plumbset.") from error
    damaged = [p for p in problems if "waits for a check" not in p]
    if damaged:
        made.close()
        raise UsageError(f"The backup is damaged, nothing was changed. {damaged[0]}")
    return made


def _put_back(made: Database, source: Files, database: Database, files: Files) -> Kept:
    with made.read() as session:
        wanted = referenced(session)
        people, sets = (session.scalar(select(func.count()).select_from(t)) for t in (Person, TrainingSet))
    for address in wanted:
        with source.path(address).open("rb") as stream:
            files.keep(stream)
    with made.read() as session, database.write() as target:
        for table in reversed(Base.metadata.sorted_tables):
            target.execute(delete(table))
        _copy_rows(session, target)
        if database.engine.dialect.name == "postgresql":
            _count_on(target)
    return Kept(people or 0, sets or 0, len(wanted))


def _count_on(session: Session) -> None:
    """Let PostgreSQL give out numbers after the highest that came back."""
    for table in Base.metadata.sorted_tables:
        if _counts(table):
            highest = session.scalar(select(func.max(table.c.id)))
            sequence = text("SELECT setval(pg_get_serial_sequence(:t, 'id'), :n, :used)")
            session.execute(sequence, {"t": table.name, "n": highest or 1, "used": highest is not None})


def _counts(table: Table) -> bool:
    return "id" in table.c and table.c.id.autoincrement is not False


def _erase_again(database: Database, files: Files, person_id: int) -> None:
    with database.read() as session:
        person: Any = session.get(Person, person_id)
        again = person is not None and person.name != ERASED and person.role == "member"
    if again:
        erase(database, files, person_id)
