"""The store's form, on both databases: what the steps make is what the tables say."""

from __future__ import annotations

from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError

import app.store
from app.store.database import Database, migrate, open_database
from app.store.models import Card, Person
from app.store.tables import HOLDERS, Base
from shared.errors import UsageError


def test_the_steps_from_nothing_make_the_tables(empty_url: str) -> None:
    database = open_database(empty_url)
    migrate(database, "0001")
    with database.write() as session:
        session.execute(
            text(
                "INSERT INTO person (name, role, beginner, active, created_at) "
                "VALUES (:n, 'member', :f, :t, :at)"
            ),
            {"n": "Ilse", "f": False, "t": True, "at": "2026-03-02 10:00:00"},
        )
        session.execute(
            text(
                "INSERT INTO card (person_id, exercise, seat, back_pad, pivot_stop, start_position, grip,"
                " unit, limits, cleared, changed_at) SELECT id, 'leg-curl', '4', '', '3', '', '', 'kg', '', "
                ":f, :at FROM person"
            ),
            {"f": False, "at": "2026-03-02 10:00:00"},
        )
    migrate(database)
    migrate(database)
    with database.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), Base.metadata) == []
    with database.read() as session:
        kept, card = session.query(Person).one(), session.query(Card).one()
    assert (card.seat, card.own_limits, kept.circuit, kept.email) == ("4", None, None, None)
    assert (card.lever_pin, card.thigh_pad, card.left_at_most_deg, kept.asked_at_sets) == ("3", "", None, 0)
    assert kept.name == "Ilse" and kept.created_at.isoformat() == "2026-03-02T10:00:00+00:00"
    database.close()


def test_foreign_keys_hold(database: Database) -> None:
    with pytest.raises(IntegrityError), database.write() as session:
        session.add(Card(person_id=99, exercise="leg-curl"))


def test_a_failed_write_leaves_no_trace(database: Database) -> None:
    with pytest.raises(RuntimeError), database.write() as session:
        session.add(Person(name="Ilse", role="member"))
        session.flush()
        raise RuntimeError
    with database.read() as session:
        assert session.query(Person).count() == 0


def test_an_unknown_database_is_named_in_one_sentence() -> None:
    with pytest.raises(UsageError, match="PLUMBSET_DATABASE_URL"):
        open_database("nonsense")


def test_every_module_that_holds_tables_is_named_among_them() -> None:
    folder = Path(str(app.store.__file__)).parent
    holds = {file.stem for file in folder.glob("*.py") if "    __tablename__ =" in file.read_text("utf-8")}
    assert {module.__name__.rpartition(".")[2] for module in HOLDERS} == holds
