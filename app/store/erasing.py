"""A member erased for good: rows, files, what is written meanwhile, and what the database still logs."""

from __future__ import annotations

import shutil
from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path

from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from app.store import card_numbers
from app.store.arriving import arriving
from app.store.belongings import addresses, belongs, drop_unreferenced, hold_still, referenced, rows_of
from app.store.database import Database
from app.store.files import Files
from app.store.models import Job, Person, Throttle, TrainingSet, now
from app.store.records import BackupMade, Erasure
from app.store.retention import LEFT_OVER_S
from app.store.review import there
from app.store.tables import Base
from shared.errors import UsageError

ERASED = "erased"
#: So long, in s, is waited for readers of the database's log.
WAIT_S = 15


def erase(database: Database, files: Files, person_id: int) -> int:
    """Erase a member: all that is theirs in the store, and their files; returns how many files.

    A row without name or anything else keeps the number from being given to someone else. The rows go
    last: while a file could not be removed, the member can be erased again. What was being written or read
    just then is noted and gone after: see ``unfinished`` and ``finish_erasing``.

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
        sent = [row[name] for row in rows["training_set"] for name in ("clip", "second_clip")]
        theirs |= {address for address in sent if address}
        if person.login:
            session.execute(delete(Throttle).where(Throttle.key == f"login:{person.login}"))
        session.add(_noted(session, files, person_id))
        card_numbers.end(session, person_id)
        for table in reversed(Base.metadata.sorted_tables):
            if table.name != "person":
                session.execute(delete(table).where(belongs(table, person_id)))
        _empty(person)
        dropped = drop_unreferenced(session, files, theirs)
    arriving(files.folder).forget(person_id)
    finish_erasing(database, files)
    return dropped


def unfinished(database: Database) -> list[int]:
    """The numbers of members who are not erased to the end yet."""
    with database.read() as session:
        return list(session.scalars(select(Erasure.number).distinct().order_by(Erasure.number)))


def backups_made(database: Database) -> list[BackupMade]:
    """The places of backups, latest first."""
    with database.read() as session:
        return list(session.scalars(select(BackupMade).order_by(BackupMade.at.desc())))


def note_backup(database: Database, place: Path) -> None:
    """Remember where a backup was put."""
    with database.write() as session:
        session.merge(BackupMade(place=str(place.absolute())[:500], at=now()))


def finish_erasing(database: Database, files: Files) -> None:
    """Remove what is left of members who were erased while something was being written or read.

    What a check or an upload under way had kept is known to nobody: once it must be over, all files go
    that nothing points at.
    """
    with database.read() as session:
        begun = list(session.scalars(select(Erasure)))
    if not begun:
        return
    gone = all([_drop_work(files, one.sets) for one in begun])
    over = [one for one in begun if not one.writing or now() - one.at > timedelta(seconds=LEFT_OVER_S)]
    if any(one.writing for one in over):
        with database.write() as session:
            drop_unreferenced(session, files, _old_strays(files, set(referenced(session))))
    if _forget(database) and gone:
        with database.write() as session:
            session.execute(delete(Erasure).where(Erasure.id.in_([one.id for one in over])))


def erased(person: Person) -> bool:
    """Whether a person's row is what ``erase`` left."""
    return person.name == ERASED and not person.active


def _noted(session: Session, files: Files, person_id: int) -> Erasure:
    sets = list(session.scalars(select(TrainingSet.id).where(TrainingSet.person_id == person_id)))
    checked = select(Job.id).where(Job.set_id.in_(sets), Job.state == "running").limit(1)
    writing = session.scalar(checked) is not None or any(files.folder.glob(".part-*"))
    return Erasure(number=person_id, sets=sets, writing=writing)


def _drop_work(files: Files, sets: Iterable[int]) -> bool:
    """Remove the work folders of sets; whether none is left."""
    found = [path for set_id in sets for path in files.folder.glob(f"{work_name(set_id)}-*")]
    for path in found:
        shutil.rmtree(path, ignore_errors=True)
    return not any(path.exists() for path in found)


def work_name(set_id: int) -> str:
    """How the work folders of a set begin."""
    return f".work-set{set_id}"


def _old_strays(files: Files, wanted: set[str]) -> list[str]:
    before = now().timestamp() - LEFT_OVER_S
    return [a for a in set(files.addresses()) - wanted if files.kept_at(a) < before]


def _empty(person: Person) -> None:
    for column in Person.__table__.columns:
        if column.nullable:
            setattr(person, column.name, None)
    person.name, person.active, person.beginner = ERASED, False, False


def _forget(database: Database) -> bool:
    """Have SQLite overwrite what it deleted, in the file and in its log; False while someone reads there."""
    if database.engine.dialect.name != "sqlite":
        return True
    with database.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        raw = connection.connection.driver_connection
        before = raw.execute("PRAGMA busy_timeout").fetchone()[0]  # type: ignore[union-attr]
        raw.execute(f"PRAGMA busy_timeout={WAIT_S * 1000}")  # type: ignore[union-attr]
        raw.execute("VACUUM")  # type: ignore[union-attr]
        busy = raw.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0]  # type: ignore[union-attr]
        raw.execute(f"PRAGMA busy_timeout={before}")  # type: ignore[union-attr]
    return not busy
