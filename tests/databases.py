"""Stores of the tests' own, made once a process and copied: a SQLite file and a PostgreSQL server."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.store.server import postgres_bin, server

if TYPE_CHECKING:
    from app.store.database import Database

BOTH = ("sqlite", "postgresql")


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The URL of a running server without the database's name, and a migrated database ``ready``."""
    from app.store.database import migrate, open_database

    tools = postgres_bin()
    if tools is None and os.environ.get("PLUMBSET_NEEDS_POSTGRESQL"):
        pytest.fail("no PostgreSQL here, and its tests may not be skipped: apt-get install postgresql")
    if tools is None:
        pytest.skip("no PostgreSQL here: apt-get install postgresql")
    with server(tools) as running:
        admin(running.base, "CREATE DATABASE ready")
        ready = open_database(running.base.replace("NAME", "ready"))
        migrate(ready)
        ready.close()
        yield running.base


def admin(base: str, command: str) -> None:
    """Run one command on the server, outside any database of the tests."""
    from app.store.database import open_database

    opened = open_database(base.replace("NAME", "postgres"))
    with opened.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql(command)
    opened.close()


@pytest.fixture(scope="session")
def migrated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file with every table and no row."""
    from app.store.database import migrate, open_database

    file = tmp_path_factory.mktemp("ready") / "ready.db"
    database = open_database(f"sqlite:///{file}")
    migrate(database)
    database.close()
    return file


@contextmanager
def opened(kind: str, request: pytest.FixtureRequest, folder: Path) -> Iterator[Database]:
    """A migrated, empty store of this kind."""
    from app.store.database import open_database

    if kind == "sqlite":
        url = f"sqlite:///{folder / 'plumbset.db'}"
        shutil.copy(request.getfixturevalue("migrated"), folder / "plumbset.db")
    else:
        base = request.getfixturevalue("postgres")
        admin(base, "CREATE DATABASE one TEMPLATE ready")
        url = base.replace("NAME", "one")
    database = open_database(url)
    yield database
    database.close()
    if kind == "postgresql":
        admin(base, "DROP DATABASE one")
