"""The store held against its files: is everything there that it says, and is it what it says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import select, text
from sqlalchemy.orm import Session

from app.rules import told
from app.store.belongings import addresses, drop_unreferenced, referenced
from app.store.database import Database
from app.store.files import Files
from app.store.models import Job, Release, Report, TrainingSet
from app.store.retention import leftovers
from shared.report import SetReport

_OPEN = ("queued", "running")


@dataclass(frozen=True)
class Verified:
    """What was found. problems: sentences about what is wrong; unused: files nothing points at."""

    sets: int
    files: int
    problems: tuple[str, ...]
    unused: tuple[str, ...]
    leftovers: int


def verify(database: Database, files: Files, read_files: bool = True) -> Verified:
    """Hold the store against its files; ``read_files``: also read every file and compare its hash."""
    with database.read() as session:
        sets = list(session.execute(select(TrainingSet.__table__)).mappings())
        reports = list(session.execute(select(Report.__table__)).mappings())
        problems = [
            *database_problems(session),
            *_file_problems(files, sets, key="id", read_files=read_files),
            *_file_problems(files, reports, key="set_id", read_files=read_files),
            *report_problems(session),
            *_job_problems(session),
        ]
        known = referenced(session)
    unused = tuple(a for a in files.addresses() if a not in known)
    return Verified(
        len(sets), len(known), problems=tuple(problems), unused=unused, leftovers=len(leftovers(files))
    )


def drop_unused(database: Database, files: Files, unused: tuple[str, ...]) -> int:
    """Remove files that nothing points at, as ``verify`` found them."""
    with database.write() as session:
        return drop_unreferenced(session, files, unused)


def database_problems(session: Session) -> Iterator[str]:
    """What is wrong with the database itself, in sentences."""
    if session.get_bind().dialect.name != "sqlite":
        return
    for row in session.execute(text("PRAGMA integrity_check")):
        if row[0] != "ok":
            yield f"The database file is damaged: {row[0]}."
    if session.execute(text("PRAGMA foreign_key_check")).first() is not None:
        yield "The database has rows that belong to nothing."


def _file_problems(files: Files, rows: list, key: str, read_files: bool) -> Iterator[str]:  # type: ignore[type-arg]
    for row in rows:
        for address in addresses([row]):
            if not files.there(address):
                yield f"Set {row[key]}: the file {address[:12]} is missing."
            elif read_files and not files.sound(address):
                yield f"Set {row[key]}: the file {address[:12]} is not what was kept."


def report_problems(session: Session) -> Iterator[str]:
    """Reports and results that cannot be read, in sentences."""
    for row in session.scalars(select(Report)):
        try:
            SetReport.from_json(row.body)
        except ValueError:
            yield f"Set {row.set_id}: its report cannot be read."
    for release in session.scalars(select(Release)):
        try:
            told.Told.from_json(release.body)
        except (ValueError, TypeError, KeyError):
            yield f"Set {release.set_id}: what was handed over cannot be read."


def _job_problems(session: Session) -> Iterator[str]:
    waiting = select(Job.set_id).where(Job.state.in_(_OPEN))
    lost = select(TrainingSet.id).where(TrainingSet.status == "checking", TrainingSet.id.not_in(waiting))
    for set_id in session.scalars(lost):
        yield f"Set {set_id}: it waits for a check that is not in the queue; have it checked again."
