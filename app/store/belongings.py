"""Whose rows and files are whose: what hangs on a member, and what the store still points at."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from typing import Any

from sqlalchemy import ColumnElement, Table, false, or_, select, text
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from app.store.database import BUSY, StoreTrouble
from app.store.files import Files
from app.store.models import Report, TrainingSet
from app.store.tables import Base

#: Columns that say who did something, not whose it is.
AUTHORS = {"by_id", "changed_by", "binned_by"}
#: So often, so long apart in s, is asked for both tables at once; what PostgreSQL says while they are in use.
HOLD_TRIES, HOLD_PAUSE_S = 200, 0.1
LOCKED = "55P03"


def belongs(table: Table, person_id: int) -> ColumnElement[bool]:
    """The condition for the rows of a table that are a person's own: theirs, or of one of their sets."""
    own_sets = select(TrainingSet.id).where(TrainingSet.person_id == person_id)
    of: list[ColumnElement[bool]] = []
    for column in table.columns:
        for key in column.foreign_keys:
            if key.column.table.name == "person" and column.name not in AUTHORS:
                of.append(column == person_id)
            if key.column.table.name == "training_set":
                of.append(column.in_(own_sets))
    if table.name == "person":
        of.append(table.c.id == person_id)
    return or_(false(), *of)


def rows_of(session: Session, person_id: int) -> dict[str, list[dict[str, Any]]]:
    """All rows that are a person's own, by table."""
    found = {}
    for table in Base.metadata.sorted_tables:
        rows = session.execute(select(table).where(belongs(table, person_id))).mappings()
        found[table.name] = [dict(row) for row in rows]
    return found


def addresses(rows: Iterable[Any]) -> Iterator[str]:
    """The files that rows of sets and of reports point at; a clip that was dropped is none."""
    for row in rows:
        if "clip" in row:
            if row["clip_dropped_at"] is None:
                yield from (a for a in (row["clip"], row["second_clip"]) if a)
            continue
        yield from (a for a in (row["annotated"], row["page"], row["signals"], row["moving"]) if a)
        yield from (picture["file"] for picture in row["pictures"])


def referenced(session: Session) -> dict[str, int]:
    """The addresses of all files that the store points at, each with a set that it belongs to."""
    sets, reports = TrainingSet, Report
    rows = (
        session.execute(select(sets.id, sets.clip, sets.second_clip, sets.clip_dropped_at)).mappings().all()
    )
    kept = select(
        reports.set_id, reports.annotated, reports.page, reports.signals, reports.moving, reports.pictures
    )
    more = session.execute(kept).mappings().all()
    found = {address: row["id"] for row in rows for address in addresses([row])}
    return found | {address: row["set_id"] for row in more for address in addresses([row])}


def drop_unreferenced(session: Session, files: Files, gone: Iterable[str]) -> int:
    """Remove files that no row points at any more; returns how many.

    ``session`` writes: while it lasts nobody adds a set, so that no file is taken from under one.
    """
    asked = set(gone)
    if not asked:
        return 0
    hold_still(session)
    session.flush()
    unused = [a for a in asked - set(referenced(session)) if files.there(a)]
    for address in unused:
        files.drop(address)
    return len(unused)


def hold_still(session: Session) -> None:
    """Have nobody add a set or a report until this session, which writes, is over.

    Both tables at once or neither: who waited for one while holding the other would wait for ever for someone
    who holds that one. Raises StoreTrouble where others write without a pause.
    """
    if session.get_bind().dialect.name != "postgresql":
        return
    connection = session.connection()
    for _ in range(HOLD_TRIES):
        try:
            with connection.begin_nested():
                connection.execute(text("LOCK TABLE training_set, report IN SHARE ROW EXCLUSIVE MODE NOWAIT"))
            return
        except OperationalError as error:
            if getattr(error.orig, "sqlstate", "") != LOCKED:
                raise
        time.sleep(HOLD_PAUSE_S)
    raise StoreTrouble(BUSY)
