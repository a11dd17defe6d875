"""What is erased is gone from every file of the data folder, also what was just being written or read."""

from __future__ import annotations

import io
import os
import threading
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, text

from app.cli import app as cli
from app.cli import run
from app.jobs import queue, worker
from app.store import belongings, erasing
from app.store.access import NewSet
from app.store.bin import empty_bin
from app.store.database import StoreTrouble, migrate, open_database
from app.store.erasing import erase, finish_erasing, unfinished
from app.store.files import Files
from app.store.models import Person
from app.store.records import Erasure
from app.store.retention import LEFT_OVER_S
from app.store.rules import Refused
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

PAIN, CLIP, DRAWN = b"the left knee of Ilse", b"every byte of her clip", b"drawn on her clip"
HERS = (PAIN, CLIP, DRAWN, b"Ilse")
#: PostgreSQL keeps rows and log elsewhere than in the data folder.
IN_FILES = pytest.mark.parametrize("database", ["sqlite"], indirect=True)


def _kept(folder: Path) -> list[str]:
    """The files of a data folder, the database's log among them, in which something of hers can be read."""
    return [
        str(path.relative_to(folder))
        for path in sorted(folder.rglob("*"))
        if path.is_file() and any(told in path.read_bytes() for told in HERS)
    ]


def _sent(studio: Studio) -> int:
    return new_set(studio.ilse, clip=CLIP, pain=True, pain_where=PAIN.decode())


@IN_FILES
def test_nothing_of_an_erased_member_is_left_in_file_or_log(studio: Studio, tmp_path: Path) -> None:
    _sent(studio)
    check(studio.database, studio.files)
    assert len(_kept(tmp_path)) > 1
    with studio.database.read() as reading:
        assert reading.connection()
    erase(studio.database, studio.files, studio.ilse.actor.id)
    assert _kept(tmp_path) == [] and unfinished(studio.database) == []
    assert studio.trainer.members(), "the store is still in use"


@IN_FILES
def test_while_a_reader_is_at_the_log_it_is_not_finished_and_is_finished_later(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(erasing, "WAIT_S", 0)
    _sent(studio)
    ilse = studio.ilse.actor.id
    with studio.database.read() as reading:
        assert reading.scalars(select(Person)).all()
        erase(studio.database, studio.files, ilse)
        assert unfinished(studio.database) == [ilse]
    finish_erasing(studio.database, studio.files)
    assert unfinished(studio.database) == [] and _kept(tmp_path) == []


def test_a_check_that_runs_meanwhile_leaves_nothing(studio: Studio, tmp_path: Path) -> None:
    set_id = _sent(studio)
    job = queue.claim(studio.database)
    begun, erased = threading.Event(), threading.Event()

    def checks(job: queue.Claimed, files: Files, folder: Path, say: Any) -> queue.Outcome:
        (folder / "annotated.mp4").write_bytes(DRAWN)
        begun.set()
        assert erased.wait(60)
        kept = files.keep(io.BytesIO(DRAWN))
        return queue.Outcome(report(), annotated=kept, page=kept, pictures=(("knee-lockout:4", kept),))

    assert job is not None
    running = threading.Thread(target=worker.run_with, args=(studio.database, studio.files, job, checks))
    running.start()
    assert begun.wait(60) and _kept(tmp_path)
    erase(studio.database, studio.files, studio.ilse.actor.id)
    assert _kept(tmp_path) == [], f"the work folder of set {set_id} is gone too"
    assert unfinished(studio.database) == [studio.ilse.actor.id]
    erased.set()
    running.join()
    assert _kept(tmp_path) == []


def test_what_a_killed_check_or_upload_left_goes_when_it_must_be_over(studio: Studio, tmp_path: Path) -> None:
    _sent(studio)
    assert queue.claim(studio.database) is not None
    stray = studio.files.keep(io.BytesIO(DRAWN))  # it had kept this, and not yet said so
    erase(studio.database, studio.files, studio.ilse.actor.id)
    fresh = studio.files.keep(io.BytesIO(b"an upload under way"))
    finish_erasing(studio.database, studio.files)
    assert studio.files.there(stray) and unfinished(studio.database)
    past = os.stat(tmp_path).st_mtime - LEFT_OVER_S - 10
    os.utime(studio.files.path(stray), (past, past))
    with studio.database.write() as session:
        for one in session.scalars(select(Erasure)):
            one.at = one.at.fromtimestamp(past, one.at.tzinfo)
    finish_erasing(studio.database, studio.files)
    assert _kept(tmp_path) == [] and unfinished(studio.database) == [] and studio.files.there(fresh)


def test_nothing_is_sent_for_who_is_erased(studio: Studio) -> None:
    erase(studio.database, studio.files, studio.ilse.actor.id)
    with pytest.raises(Refused):
        studio.trainer.add_set(NewSet(studio.ilse.actor.id, "leg-curl", DAY), io.BytesIO(CLIP))


def test_what_lies_in_the_bin_is_erased_too(studio: Studio, tmp_path: Path) -> None:
    set_id = _sent(studio)
    check(studio.database, studio.files)
    studio.ilse.delete_clip(set_id)
    erase(studio.database, studio.files, studio.ilse.actor.id)
    assert _kept(tmp_path) == [] and empty_bin(studio.database, studio.files) == 0


def test_the_command_says_where_backups_may_still_hold_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], database: object
) -> None:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    kept = open_database(f"sqlite:///{tmp_path / 'data' / 'plumbset.db'}")
    migrate(kept)
    studio = Studio(kept, tmp_path / "data" / "files")
    _sent(studio)
    queue.claim(kept)

    def told_by(*arguments: str) -> str:
        assert run(lambda: cli(list(arguments), standalone_mode=False)) == 0
        return capsys.readouterr().out

    told_by("backup", str(tmp_path / "old"))
    said = told_by("member", "erase", str(studio.ilse.actor.id), "--yes")
    assert str(tmp_path / "old") in said and "is not finished" in said
    assert "is not finished" in told_by("tidy")
    kept.close()
    assert _kept(tmp_path / "data") == [] and _kept(tmp_path / "old")


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_who_waits_for_writers_holds_nothing_meanwhile(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A check that has written its report and goes on to its set is never waited for with the sets held."""
    monkeypatch.setattr(belongings, "HOLD_TRIES", 2)
    monkeypatch.setattr(belongings, "HOLD_PAUSE_S", 0.0)
    with studio.database.engine.begin() as writing, studio.database.read() as session:
        writing.execute(text("LOCK TABLE report IN ROW EXCLUSIVE MODE"))
        with pytest.raises(StoreTrouble, match="Too much is being written"):
            belongings.hold_still(session)
        writing.execute(text("LOCK TABLE training_set IN ROW EXCLUSIVE MODE NOWAIT"))
