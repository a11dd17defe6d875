"""What is kept no longer: clips past their time, what killed processes left, and members who are erased."""

from __future__ import annotations

import shutil
import time
from datetime import timedelta
from pathlib import Path

from sqlalchemy import delete, select

from app.store.belongings import addresses, belongs, drop_unreferenced, hold_still, referenced, rows_of
from app.store.database import Database
from app.store.files import Files
from app.store.models import Base, Person, Throttle, TrainingSet, now
from app.store.review import there
from app.store.signin import forget_over
from shared.errors import UsageError

#: Nothing that is being written takes as long as this, in s.
LEFT_OVER_S = 7200.0
#: So long it is made sure that a dropped clip is gone.
AGAIN = timedelta(days=7)
ERASED = "erased"


def tidy(database: Database, files: Files, keep_clips_days: int | None) -> int:
    """Drop clips past their time, leftovers, copies of what was dropped, and what lets nobody in any more.

    Returns how many clips went.
    """
    for path in leftovers(files):
        shutil.rmtree(path, ignore_errors=True) if path.is_dir() else path.unlink(missing_ok=True)
    with database.read() as session:
        wanted = referenced(session)
    files.forget(wanted, LEFT_OVER_S)
    with database.write() as session:
        forget_over(session)
    return 0 if keep_clips_days is None else drop_clips(database, files, keep_clips_days)


def leftovers(files: Files) -> list[Path]:
    """Half-written files and work folders that nobody is writing any more."""
    found = []
    for path in (*files.folder.glob(".part-*"), *files.folder.glob(".work-*")):
        try:
            if time.time() - path.stat().st_mtime > LEFT_OVER_S:
                found.append(path)
        except OSError:
            continue
    return found


def drop_clips(database: Database, files: Files, days: int) -> int:
    """Drop the clips sent more than so many days ago, as they were sent; returns how many.

    Reports, numbers, pictures and the drawn clip with hidden heads stay. A clip that is being
    checked waits. The rows are changed first; files that a stop or a store that did not answer left
    behind go with one of the next runs.
    """
    old = now() - timedelta(days=days)
    query = select(TrainingSet).where(
        TrainingSet.clip.is_not(None), TrainingSet.clip_dropped_at.is_(None),
        TrainingSet.uploaded_at < old, TrainingSet.status != "checking",
    )  # fmt: skip
    with database.write() as session:
        rows = list(session.scalars(query))
        for row in rows:
            row.clip_dropped_at = now()
    lately = select(TrainingSet.clip).where(TrainingSet.clip_dropped_at > now() - AGAIN)
    with database.write() as session:
        drop_unreferenced(session, files, [clip for clip in session.scalars(lately) if clip])
    return len(rows)


def erase(database: Database, files: Files, person_id: int) -> int:
    """Erase a member for good: all that is theirs in the store, and their files; returns how many files.

    A row without name or anything else keeps the number from being given to someone else. The rows go
    last: while a file could not be removed, the member can be erased again.

    Raises
    ------
    UsageError : there is no such member. InternalError : a file cannot be removed.
    """
    with database.write() as session:
        hold_still(session)
        person = there(session.get(Person, person_id))
        if person.role != "member":
            raise UsageError("Only members can be erased.")
        rows = rows_of(session, person_id)
        theirs = set(addresses([*rows["training_set"], *rows["report"]]))
        theirs |= {row["clip"] for row in rows["training_set"] if row["clip"]}
        if person.login:
            session.execute(delete(Throttle).where(Throttle.key == f"login:{person.login}"))
        for table in reversed(Base.metadata.sorted_tables):
            if table.name != "person":
                session.execute(delete(table).where(belongs(table, person_id)))
        _empty(person)
        dropped = drop_unreferenced(session, files, theirs)
    _forget(database)
    return dropped


def erased(person: Person) -> bool:
    """Whether a person's row is what ``erase`` left."""
    return person.name == ERASED and not person.active


def _empty(person: Person) -> None:
    for column in Person.__table__.columns:
        if column.nullable:
            setattr(person, column.name, None)
    person.name, person.active, person.beginner = ERASED, False, False


def _forget(database: Database) -> None:
    """Have SQLite overwrite what it deleted, in the file and in its log."""
    if database.engine.dialect.name != "sqlite":
        return
    with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        raw = connection.connection.driver_connection
        raw.execute("VACUUM")  # type: ignore[union-attr]
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")  # type: ignore[union-attr]
