"""A backup in the store's place: all that is sound comes back, and what does not is told."""

from __future__ import annotations

import dataclasses
import shutil
import tempfile
from datetime import datetime
from pathlib import Path

from alembic.util.exc import CommandError
from sqlalchemy import Table, delete, func, select, text
from sqlalchemy.exc import DatabaseError
from sqlalchemy.orm import Session

from app.store.backup import STORE, Kept, copy_rows, copy_sound, counted, files_in, is_sealed
from app.store.belongings import referenced
from app.store.database import Database, StoreTrouble, migrate, open_database
from app.store.erasing import ERASED, erase, erased
from app.store.files import Files
from app.store.models import Person
from app.store.records import BackupMade, Erasure
from app.store.sealed import Seal
from app.store.tables import Base
from app.store.verify import database_problems, report_problems
from shared.errors import InternalError, UsageError

DAMAGED = "The backup is damaged, or was made by a later version of Plumbset; nothing was changed."


def restore(
    folder: Path, database: Database, files: Files, replace: bool = False, seal: Seal | None = None
) -> Kept:
    """Put a backup in the store's place: its rows all or none, and every file of it that is sound.

    Sessions, links and waits after wrong passwords do not come back. Members of this store who were erased
    since the backup was made are erased again; those of another store are others, whatever their numbers.

    Raises
    ------
    UsageError : it is no backup, its store is damaged or of a later version, the key does not fit, or the
        store is not empty.
    """
    if not (folder / STORE).is_file():
        raise UsageError(f"{folder.name} holds no backup; name the folder that plumbset backup wrote.")
    if not is_sealed(folder):
        seal = None
    elif seal is None:
        raise UsageError(f"{folder.name} is sealed; name its key with --key-file.")
    migrate(database)
    with database.read() as session:
        gone = [(p.id, p.created_at) for p in session.scalars(select(Person)) if erased(p)]
        if not replace and session.scalar(select(func.count()).select_from(Person)):
            raise UsageError("The store is not empty; --replace puts the backup in its place.")
    with tempfile.TemporaryDirectory(prefix="plumbset-") as work:
        made = _checked(_opened(folder, Path(work) / STORE, seal))
        try:
            kept = _put_back(made, files_in(folder, seal), database=database, files=files)
        finally:
            made.close()
    again = [number for number, since in gone if _erased_again(database, files, number, since)]
    return dataclasses.replace(kept, erased=tuple(again))


def _opened(folder: Path, copied: Path, seal: Seal | None) -> Path:
    if seal is None:
        shutil.copy(folder / STORE, copied)
        return copied
    with (folder / STORE).open("rb") as sealed, copied.open("wb") as out:
        try:
            seal.open(sealed, out)
        except InternalError as error:
            raise UsageError("This key does not open the backup; nothing was changed.") from error
    return copied


def _checked(copied: Path) -> Database:
    made = open_database(f"sqlite:///{copied}")
    try:
        migrate(made)
        with made.read() as session:
            damaged = list(database_problems(session))
    except (CommandError, DatabaseError, StoreTrouble) as error:
        made.close()
        raise UsageError(DAMAGED) from error
    if damaged:
        made.close()
        raise UsageError(f"The backup is damaged, nothing was changed. {damaged[0]}")
    return made


def _put_back(made: Database, source: Files, database: Database, files: Files) -> Kept:
    with made.read() as session:
        wanted, (people, sets) = referenced(session), counted(session)
        problems = list(report_problems(session))
    lacking = list(copy_sound(wanted, source, files, "the backup"))
    with made.read() as session, database.write() as target:
        unerased, backups = list(target.scalars(select(Erasure))), list(target.scalars(select(BackupMade)))
        target.expunge_all()
        for table in reversed(Base.metadata.sorted_tables):
            target.execute(delete(table))
        copy_rows(session, target)
        _still_to_do(target, unerased, backups)
        if database.engine.dialect.name == "postgresql":
            _count_on(target)
    here = sum(files.there(address) for address in wanted)
    return Kept(people, sets, here, problems=(*lacking, *problems))


def _still_to_do(session: Session, unerased: list[Erasure], backups: list[BackupMade]) -> None:
    """Keep what this store knew and the backup need not: erasing not ended, and where backups are."""
    known = set(session.scalars(select(Erasure.number)))
    highest = session.scalar(select(func.max(Erasure.id))) or 0
    for number, one in enumerate((e for e in unerased if e.number not in known), highest + 1):
        session.add(Erasure(id=number, number=one.number, sets=one.sets, writing=one.writing, at=one.at))
    for place in backups:
        before = session.get(BackupMade, place.place)
        session.merge(BackupMade(place=place.place, at=max(place.at, before.at) if before else place.at))
    session.flush()


def _count_on(session: Session) -> None:
    """Let PostgreSQL give out numbers after the highest that came back."""
    for table in Base.metadata.sorted_tables:
        if _counts(table):
            highest = session.scalar(select(func.max(table.c.id)))
            sequence = text("SELECT setval(pg_get_serial_sequence(:t, 'id'), :n, :used)")
            session.execute(sequence, {"t": table.name, "n": highest or 1, "used": highest is not None})


def _counts(table: Table) -> bool:
    return "id" in table.c and table.c.id.autoincrement is not False


def _erased_again(database: Database, files: Files, person_id: int, since: datetime) -> bool:
    """Erase whom the backup brought back under a number, if it is who had it here, since the same moment."""
    with database.read() as session:
        person = session.get(Person, person_id)
        if person is None or person.created_at != since:
            return False
        if person.role != "member" or person.name == ERASED:
            return False
    erase(database, files, person_id)
    return True
