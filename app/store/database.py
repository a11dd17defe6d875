"""One database, SQLite or PostgreSQL: opened, brought to today's form, read and written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, OperationalError
from sqlalchemy.orm import Session

from shared.errors import InternalError, UsageError

MIGRATIONS = Path(__file__).parent / "migrations"
#: How long, in s, a writer waits for another one.
BUSY_S = 15

AWAY = "The database does not answer, so nothing was kept of this step; try again in a moment."
BUSY = "Too much is being written at once, so nothing was kept of this step; try again in a moment."
FULL = "The disk of the database is full, so nothing was kept of this step; free some space and try again."
READ_ONLY = (
    "The database may not be written to, so nothing was kept of this step; have the rights of the data "
    "folder put right and try again."
)
DAMAGED = "The database is damaged; stop the page and put a backup back with plumbset restore."
#: By result code (sqlite.org/rescode.html), the kinds that are no mistake of ours.
_SQLITE = {
    3: READ_ONLY, 5: BUSY, 6: BUSY, 8: READ_ONLY, 10: AWAY, 11: DAMAGED, 13: FULL, 14: READ_ONLY, 26: DAMAGED,
}  # fmt: skip
#: By SQLSTATE (PostgreSQL's appendix A).
_POSTGRESQL = {"53100": FULL, "25006": READ_ONLY, "XX001": DAMAGED, "XX002": DAMAGED}


class StoreTrouble(InternalError):
    """The database is away, busy, full, damaged or may not be written to; nothing was kept."""


class Database:
    """Sessions on one engine: ``read`` sees one state throughout, ``write`` commits or leaves no trace.

    What is wrong with the database itself, and no mistake of ours, is a ``StoreTrouble``.
    """

    def __init__(self, engine: Engine):
        self.engine = engine
        self._writing = engine.execution_options(writes=True)

    @contextmanager
    def read(self) -> Iterator[Session]:
        """A session for reading; rows stay usable after it."""
        with _told(), Session(self.engine, expire_on_commit=False) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        """A session that is committed at the end, or rolled back on any error."""
        with _told(), Session(self._writing, expire_on_commit=False) as session, session.begin():
            yield session

    def close(self) -> None:
        """Give all connections back."""
        self.engine.dispose()


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except DBAPIError as error:
        if (said := _sentence(error)) is None:
            raise
        raise StoreTrouble(said) from error


def _sentence(error: DBAPIError) -> str | None:
    """What to tell of an error of the database; None for a mistake in what it was asked."""
    code = getattr(error.orig, "sqlite_errorcode", None)
    if code is not None:
        return _SQLITE.get(code & 0xFF)
    known = _POSTGRESQL.get(str(getattr(error.orig, "sqlstate", "")))
    return known or (AWAY if isinstance(error, OperationalError) else None)


def open_database(url: str) -> Database:
    """Open a database by its URL; the folder of an SQLite file is made.

    Raises
    ------
    UsageError : the URL names no database that can be opened.
    """
    try:
        parsed = make_url(url)
        engine = create_engine(
            parsed, pool_pre_ping=parsed.get_backend_name() != "sqlite", hide_parameters=True
        )
    except (ArgumentError, ModuleNotFoundError) as error:
        raise UsageError("PLUMBSET_DATABASE_URL names no database that Plumbset can open.") from error
    if parsed.get_backend_name() == "sqlite":
        _prepare_sqlite(engine, parsed.database)
    return Database(engine)


def _prepare_sqlite(engine: Engine, file: str | None) -> None:
    if file:
        try:
            Path(file).parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        except OSError as error:
            raise UsageError(
                f"The data folder cannot be made ({error.strerror}); set PLUMBSET_DATA."
            ) from error

    @event.listens_for(engine, "connect")
    def _connect(connection: Any, _: object) -> None:
        connection.isolation_level = None
        for pragma in (
            "journal_mode=WAL",
            "foreign_keys=ON",
            "synchronous=FULL",
            "secure_delete=ON",
            f"busy_timeout={BUSY_S * 1000}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def migrate(database: Database, revision: str = "head") -> None:
    """Bring the store to today's form, or to a named revision.

    Raises
    ------
    UsageError : the database cannot be reached. StoreTrouble : it cannot be used.
    """
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    try:
        with _told(), database.engine.execution_options(writes=True).begin() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, revision)
    except StoreTrouble as trouble:
        if str(trouble) != AWAY:
            raise
        raise UsageError(
            "The database cannot be reached; check PLUMBSET_DATABASE_URL and that it is running."
        ) from trouble
