"""A store for each test, on SQLite and on a PostgreSQL server of the tests' own."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from app.store.access import Access
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Person
from app.store.rules import Actor
from tests.store.server import postgres_bin, server


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The URL of a running server without the database's name, and a migrated database ``ready``."""
    tools = postgres_bin()
    if tools is None and os.environ.get("PLUMBSET_NEEDS_POSTGRESQL"):
        pytest.fail("no PostgreSQL here, and its tests may not be skipped: apt-get install postgresql")
    if tools is None:
        pytest.skip("no PostgreSQL here: apt-get install postgresql")
    with server(tools) as running:
        _admin(running.base, "CREATE DATABASE ready")
        ready = open_database(running.base.replace("NAME", "ready"))
        migrate(ready)
        ready.close()
        yield running.base


def _admin(base: str, command: str) -> None:
    admin = open_database(base.replace("NAME", "postgres"))
    with admin.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql(command)
    admin.close()


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("ready") / "ready.db"
    database = open_database(f"sqlite:///{file}")
    migrate(database)
    database.close()
    return file


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_url(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A database without any table."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'empty.db'}"
        return
    base = request.getfixturevalue("postgres")
    _admin(base, "CREATE DATABASE empty")
    yield base.replace("NAME", "empty")
    _admin(base, "DROP DATABASE empty")


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A migrated, empty store."""
    if request.param == "sqlite":
        shutil.copy(request.getfixturevalue("migrated"), tmp_path / "plumbset.db")
        opened = open_database(f"sqlite:///{tmp_path / 'plumbset.db'}")
        yield opened
        opened.close()
        return
    base = request.getfixturevalue("postgres")
    _admin(base, "CREATE DATABASE one TEMPLATE ready")
    opened = open_database(base.replace("NAME", "one"))
    yield opened
    opened.close()
    _admin(base, "DROP DATABASE one")


class Studio:
    """A trainer, two members and their access to one store."""

    def __init__(self, database: Database, folder: Path):
        self.database, self.files = database, Files(folder)
        with database.write() as session:
            rows = [
                Person(name=n, role=r)
                for n, r in (("Runa", "trainer"), ("Ilse", "member"), ("Odo", "member"))
            ]
            session.add_all(rows)
            session.flush()
            actors = [Actor(p.id, p.name, p.role) for p in rows]
        self.trainer, self.ilse, self.odo = (Access(database, self.files, a) for a in actors)

    @property
    def all(self) -> dict[str, Access]:
        return {"trainer": self.trainer, "ilse": self.ilse, "odo": self.odo}


@pytest.fixture
def studio(database: Database, tmp_path: Path) -> Studio:
    return Studio(database, tmp_path / "files")
