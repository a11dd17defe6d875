"""Full disks, folders that cannot be made, clocks that are set back: a sentence, and nothing lost."""

from __future__ import annotations

import errno
import io
import os
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from app.store import signin
from app.store.access import NewSet
from app.store.backup import backup
from app.store.files import Files
from app.store.models import Throttle, now
from app.store.settings import DATABASE_URL, DATABASE_URL_FILE, KEEP_CLIPS_DAYS, NEW_FOR_SETS, store_settings
from app.store.verify import verify
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, new_set


class _Full(io.BytesIO):
    """A stream after whose first piece the disk is full."""

    def read(self, size: int | None = -1, /) -> bytes:
        if self.tell():
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return super().read(4)


def test_a_full_disk_is_a_sentence_and_leaves_nothing_half_kept(studio: Studio) -> None:
    kept = new_set(studio.ilse)
    with pytest.raises(UsageError, match="No space left on device"):
        studio.ilse.add_set(NewSet(studio.ilse.actor.id, "leg-curl", DAY), _Full(b"a clip"))
    assert [s.id for s in studio.ilse.sets(studio.ilse.actor.id)] == [kept]
    assert (
        not list(studio.files.folder.glob(".part-*")) and verify(studio.database, studio.files).unused == ()
    )


def test_a_backup_onto_a_full_disk_is_a_sentence_and_the_one_before_stays(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    new_set(studio.ilse)
    backup(studio.database, studio.files, tmp_path / "b")
    before = (tmp_path / "b" / "store.db").read_bytes()
    new_set(studio.ilse, clip=b"another")

    def full(self: Files, source: Any) -> str:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(Files, "keep", full)
    with pytest.raises(UsageError, match="No space left"):
        backup(studio.database, studio.files, tmp_path / "b")
    assert (tmp_path / "b" / "store.db").read_bytes() == before


def test_a_folder_that_cannot_be_made_is_a_sentence(studio: Studio, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(UsageError, match="could not be kept"):
        Files(tmp_path / "file" / "files").keep(io.BytesIO(b"x"))
    with pytest.raises(UsageError, match="is a file"):
        backup(studio.database, studio.files, tmp_path / "file")


def test_a_lock_set_before_the_clock_was_set_back_does_not_last_for_ever(studio: Studio) -> None:
    password = "a long enough sentence"
    signin.set_account(studio.database, studio.trainer.actor, "runa", password)
    with studio.database.write() as session:
        session.add(Throttle(key="login:runa", wrong=9, locked_until=now() + timedelta(days=30)))
    assert signin.sign_in(studio.database, "runa", password)


def test_many_pages_writing_at_once_lose_nothing(studio: Studio) -> None:
    made: list[int] = []

    def write(page: int) -> None:
        made.extend(new_set(studio.ilse, clip=f"{page} {i}".encode()) for i in range(6))

    pages = [threading.Thread(target=write, args=(n,)) for n in range(4)]
    for page in pages:
        page.start()
    for page in pages:
        page.join()
    assert len(made) == 24 and {s.id for s in studio.ilse.sets(studio.ilse.actor.id)} == set(made)


@pytest.fixture
def secret(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    monkeypatch.delenv(DATABASE_URL, raising=False)
    path = tmp_path / "url"
    path.write_text("postgresql://studio:geheim@db/plumbset\n", encoding="utf-8")
    monkeypatch.setenv(DATABASE_URL_FILE, str(path))
    yield path


def test_a_secret_comes_from_a_file_that_only_its_owner_reads(secret: Path) -> None:
    secret.chmod(0o644)
    with pytest.raises(UsageError, match="chmod 600"):
        store_settings()
    secret.chmod(0o600)
    assert store_settings().database_url == "postgresql+psycopg://studio:geheim@db/plumbset"
    assert "geheim" not in repr(store_settings())


@pytest.mark.parametrize("days", ["0", "-3", "ninety", "٣"])
def test_days_that_are_none_are_a_sentence(days: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(KEEP_CLIPS_DAYS, days)
    with pytest.raises(UsageError, match="number of days"):
        store_settings()
    monkeypatch.delenv(KEEP_CLIPS_DAYS)
    monkeypatch.setenv(NEW_FOR_SETS, days)
    with pytest.raises(UsageError, match="PLUMBSET_NEW_FOR_SETS must be a number of sets"):
        store_settings()


def test_the_studio_says_for_how_many_sets_a_member_is_new(monkeypatch: pytest.MonkeyPatch) -> None:
    assert store_settings().new_for_sets == 12
    monkeypatch.setenv(NEW_FOR_SETS, "30")
    assert store_settings().new_for_sets == 30
