"""A store for each test, on SQLite and on a PostgreSQL server of the tests' own."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.store.access import Access
from app.store.database import Database
from app.store.files import Files
from app.store.models import Person
from app.store.rules import Actor
from tests.databases import BOTH, admin, opened

JOINED = datetime(2026, 1, 5, 9, tzinfo=UTC)


@pytest.fixture(params=BOTH)
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A database without any table."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
        return
    base = request.getfixturevalue("postgres")
    admin(base, "CREATE DATABASE empty")
    yield base.replace("NAME", "empty")
    admin(base, "DROP DATABASE empty")


@pytest.fixture(params=BOTH)
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A migrated, empty store."""
    with opened(request.param, request, tmp_path) as database:
        yield database


class Studio:
    """A trainer, two members who agreed to be filmed, and their access to one store.

    Members read what the tool says at once; what goes until a studio chooses is tried in test_handing.py.
    """

    def __init__(self, database: Database, folder: Path):
        self.database, self.files = database, Files(folder)
        with database.write() as session:
            rows = [
                Person(name=n, role=r, created_at=JOINED, consent_at=None if r == "trainer" else JOINED)
                for n, r in (("Runa", "trainer"), ("Ilse", "member"), ("Odo", "member"))
            ]
            session.add_all(rows)
            session.flush()
            actors = [Actor(p.id, p.name, p.role) for p in rows]
        self.trainer, self.ilse, self.odo = (Access(database, self.files, a) for a in actors)
        self.trainer.hold_back(False)

    @property
    def all(self) -> dict[str, Access]:
        return {"trainer": self.trainer, "ilse": self.ilse, "odo": self.odo}


@pytest.fixture
def studio(database: Database, tmp_path: Path) -> Studio:
    return Studio(database, tmp_path / "files")
