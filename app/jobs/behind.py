"""A batch on the machine of a studio's page: members' clips go first."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

from app.store.settings import StoreSettings

_FILE = "sqlite:///"


@contextmanager
def members_first(settings: StoreSettings) -> Iterator[Callable[[], bool]]:
    """Whether members' clips wait in the studio's store; never where there is no store."""
    url = settings.database_url
    absent = url.startswith(_FILE) and not Path(url.removeprefix(_FILE)).is_file()
    if absent or find_spec("sqlalchemy") is None:
        yield lambda: False
        return
    from sqlalchemy.exc import SQLAlchemyError

    from app.jobs.queue import clips_wait
    from app.store.database import StoreTrouble, open_database

    database = open_database(url)

    def wait() -> bool:
        try:
            return clips_wait(database)
        except (StoreTrouble, SQLAlchemyError):  # away, or of another version: nobody is known to wait
            return False

    try:
        yield wait
    finally:
        database.close()
