"""What is erased is overwritten at once, while the page goes on with the store open."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.store.retention import erase
from tests.store.conftest import Studio
from tests.store.made import new_set

SECRET = b"the left knee of Ilse"


def _kept(folder: Path) -> list[str]:
    """The files of an SQLite store, its log among them, in which the secret can be read."""
    return [path.name for path in sorted(folder.glob("plumbset.db*")) if SECRET in path.read_bytes()]


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_nothing_of_an_erased_member_is_left_in_file_or_log(studio: Studio, tmp_path: Path) -> None:
    new_set(studio.ilse, pain=True, pain_where=SECRET.decode())
    assert _kept(tmp_path) == ["plumbset.db-wal"]
    with studio.database.read() as reading:
        assert reading.connection()
    erase(studio.database, studio.files, studio.ilse.actor.id)
    assert _kept(tmp_path) == []
    assert studio.trainer.members(), "the store is still in use"
