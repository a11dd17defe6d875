"""Backup and restore, the store against its files, clips past their time, a member's data out and gone."""

from __future__ import annotations

import io
import json
import os
import sqlite3
import threading
import zipfile
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from app.cli import app as cli
from app.cli import run
from app.rules import told
from app.store import signin
from app.store.access import NewSet
from app.store.backup import ABOUT, STORE, _alone, backup
from app.store.belongings import AUTHORS, belongs, rows_of
from app.store.database import Database, migrate, open_database
from app.store.erasing import erase
from app.store.export import export_member
from app.store.files import Files
from app.store.models import Decision, Job, Pass, Person, Report, TrainingSet, now
from app.store.restore import restore
from app.store.retention import LEFT_OVER_S, tidy
from app.store.tables import Base
from app.store.verify import drop_unused, verify
from shared.errors import UsageError
from tests.databases import admin
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set

SECRET = "the left knee of Ilse"


@pytest.fixture
def full(studio: Studio) -> Studio:
    """A studio with a released set of Ilse, one of Odo from the same clip, a card, a link and notes."""
    ilse = studio.ilse.actor.id
    set_id = new_set(studio.ilse, clip=b"shared")
    check(studio.database, studio.files)
    studio.trainer.decide(set_id, [told.NOTE], "note", SECRET)
    studio.trainer.release(set_id)
    studio.trainer.make_reference(set_id)
    studio.trainer.save_card(ilse, "leg-extension", limits=SECRET)
    studio.trainer.make_link(ilse)
    new_set(studio.odo, clip=b"shared")
    new_set(studio.ilse, clip=b"hers alone", pain=True, pain_where=SECRET)
    return studio


@pytest.fixture(params=["sqlite", "postgresql"])
def other(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Database]:
    """A second store, empty, on either database."""
    if request.param == "sqlite":
        opened = open_database(f"sqlite:///{tmp_path / 'other' / 'plumbset.db'}")
        yield opened
        opened.close()
        return
    base = request.getfixturevalue("postgres")
    admin(base, "CREATE DATABASE other")
    opened = open_database(base.replace("NAME", "other"))
    yield opened
    opened.close()
    admin(base, "DROP DATABASE other")


def _contents(database: Database) -> dict[str, list[dict[str, object]]]:
    with database.read() as session:
        return {
            t.name: [dict(r) for r in session.execute(select(t).order_by(*t.primary_key)).mappings()]
            for t in Base.metadata.sorted_tables
            if t.name not in ("pass", "throttle")
        }


def test_a_backup_comes_back_the_same_on_either_database(
    full: Studio, other: Database, tmp_path: Path
) -> None:
    kept = backup(full.database, full.files, tmp_path / "backup")
    files = Files(tmp_path / "other-files")
    assert restore(tmp_path / "backup", other, files) == kept
    assert _contents(other) == _contents(full.database)
    assert verify(other, files).problems == ()
    with other.write() as session:
        session.add(Person(name="Bero", role="member"))  # numbers go on after the highest
    with other.read() as session:
        assert not session.scalars(select(Pass)).all(), "what let someone in lets nobody in"


def test_a_backup_made_in_the_middle_of_work_is_whole(studio: Studio, tmp_path: Path) -> None:
    stop = threading.Event()

    def work() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            new_set(studio.ilse, clip=f"clip {number}".encode())
            check(studio.database, studio.files)

    working = threading.Thread(target=work)
    working.start()
    try:
        for i in range(5):
            assert backup(studio.database, studio.files, tmp_path / f"b{i}").problems == ()
    finally:
        stop.set()
        working.join()
    for i in range(5):
        back = open_database(f"sqlite:///{tmp_path / f'back{i}.db'}")
        files = Files(tmp_path / f"files{i}")
        restore(tmp_path / f"b{i}", back, files)
        assert verify(back, files).problems == ()
        back.close()


def test_a_store_in_use_is_replaced_only_when_asked(full: Studio, tmp_path: Path) -> None:
    backup(full.database, full.files, tmp_path / "b")
    before = _contents(full.database)
    later = new_set(full.odo, clip=b"later")
    with pytest.raises(UsageError, match="--replace"):
        restore(tmp_path / "b", full.database, full.files)
    assert full.odo.set(later).clip
    restore(tmp_path / "b", full.database, full.files, replace=True)
    assert _contents(full.database) == before


@pytest.mark.parametrize("damage", ["store cut", "store of later", "no store", "rows of nobody"])
def test_a_damaged_backup_changes_nothing(full: Studio, tmp_path: Path, damage: str) -> None:
    place = tmp_path / "b"
    backup(full.database, full.files, place)
    if damage == "store cut":
        (place / STORE).write_bytes((place / STORE).read_bytes()[:20_000])
    elif damage == "rows of nobody":
        with sqlite3.connect(place / STORE) as store:
            store.execute("DELETE FROM person WHERE name = 'Ilse'")
        store.close()
    elif damage == "store of later":
        with sqlite3.connect(place / STORE) as store:
            store.execute("UPDATE alembic_version SET version_num = '9999'")
        store.close()
    else:
        (place / STORE).unlink()
    before = _contents(full.database)
    with pytest.raises(UsageError, match=r"damaged|no backup"):
        restore(place, full.database, full.files, replace=True)
    assert _contents(full.database) == before and verify(full.database, full.files).problems == ()


def test_two_backups_do_not_write_into_one_folder_at_once(full: Studio, tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    with _alone(tmp_path / "b"), pytest.raises(UsageError, match="under way"):
        backup(full.database, full.files, tmp_path / "b")
    assert backup(full.database, full.files, tmp_path / "b").problems == ()


def test_a_backup_goes_into_no_folder_of_something_else(full: Studio, tmp_path: Path) -> None:
    (tmp_path / "b").mkdir()
    (tmp_path / "b" / "letter.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="something else"):
        backup(full.database, full.files, tmp_path / "b")


def test_an_erased_member_leaves_the_backup_with_its_next_run_and_never_comes_back(
    full: Studio, tmp_path: Path
) -> None:
    backup(full.database, full.files, tmp_path / "old")
    backup(full.database, full.files, tmp_path / "b")
    erase(full.database, full.files, full.ilse.actor.id)
    backup(full.database, full.files, tmp_path / "b")
    for path in (tmp_path / "b").rglob("*"):
        assert path.is_dir() or (SECRET.encode() not in (data := path.read_bytes()) and b"hers" not in data)
    ilse = full.ilse.actor.id
    assert restore(tmp_path / "old", full.database, full.files, replace=True).erased == (ilse,)
    with full.database.read() as session:
        assert session.get_one(Person, ilse).name == "erased"
        assert not session.scalars(select(Decision)).all()


def test_who_was_erased_here_is_not_who_has_that_number_in_another_studios_backup(
    full: Studio, tmp_path: Path
) -> None:
    real = open_database(f"sqlite:///{tmp_path / 'real.db'}")
    migrate(real)
    theirs = Studio(real, tmp_path / "real-files")
    set_id = new_set(theirs.ilse, clip=b"their clip")
    ilse = theirs.ilse.actor.id
    with real.write() as session:
        session.get_one(Person, ilse).created_at += timedelta(microseconds=1)
    backup(real, theirs.files, tmp_path / "real")
    real.close()
    assert ilse == full.ilse.actor.id, "numbers begin at 1 in every store"
    erase(full.database, full.files, ilse)
    kept = restore(tmp_path / "real", full.database, full.files, replace=True)
    assert (kept.erased, kept.sets) == ((), 1)
    with full.database.read() as session:
        assert session.get_one(Person, ilse).name == "Ilse"
        assert full.files.there(session.get_one(TrainingSet, set_id).clip or "")


def test_what_is_erased_is_gone_and_what_is_others_stays(full: Studio, tmp_path: Path) -> None:
    ilse = full.ilse.actor.id
    hers = full.ilse.sets(ilse)
    odos = full.odo.sets(full.odo.actor.id)[0]
    erase(full.database, full.files, ilse)
    with full.database.read() as session:
        left = rows_of(session, ilse)
    assert {table for table, rows in left.items() if rows} == {"person"}
    assert left["person"][0]["name"] == "erased" and not left["person"][0]["active"]
    assert full.files.path(odos.clip or "").read_bytes() == b"shared"
    assert not any(full.files.there(s.clip or "") for s in hers if s.clip != odos.clip)
    assert verify(full.database, full.files) == verify(full.database, full.files)
    assert verify(full.database, full.files).problems == () and verify(full.database, full.files).unused == ()
    assert ilse not in {m.id for m in full.trainer.members()}
    if full.database.engine.dialect.name == "sqlite":
        full.database.close()
        for path in tmp_path.rglob("plumbset.db*"):
            assert SECRET.encode() not in path.read_bytes() and b"Ilse" not in path.read_bytes()


def test_only_members_are_erased(full: Studio) -> None:
    with pytest.raises(UsageError, match="Only members"):
        erase(full.database, full.files, full.trainer.actor.id)
    with pytest.raises(UsageError):
        erase(full.database, full.files, 4711)


#: Tables whose rows are no member's.
NOBODYS = ("person", "throttle", "erasure", "backup_made", "machine_marks", "studio")


def test_every_table_says_whose_its_rows_are() -> None:
    for table in Base.metadata.sorted_tables:
        owners = [
            c.name
            for c in table.columns
            if any(k.column.table.name in ("person", "training_set") for k in c.foreign_keys)
            and c.name not in AUTHORS
        ]
        if table.name != "person":
            assert bool(owners) == (
                "IN" in str(belongs(table, 1)) or ".person_id =" in str(belongs(table, 1))
            )
        assert owners or table.name in NOBODYS, f"{table.name}: whose is it?"


def test_clips_past_their_time_go_and_numbers_stay(full: Studio) -> None:
    ilse, odo = full.ilse.actor.id, full.odo.actor.id
    with full.database.write() as session:
        for row in session.scalars(select(TrainingSet)):
            row.uploaded_at = now() - timedelta(days=91 if row.person_id == ilse else 2)
    assert tidy(full.database, full.files, None) == 0
    assert tidy(full.database, full.files, 90) == 1, "the one that is still being checked waits"
    checked = next(s for s in full.ilse.sets(ilse) if s.status == "checked")
    assert checked.clip_dropped_at is not None and checked.count is not None
    assert full.trainer.report(checked.id) is not None and full.trainer.clip_file(checked.id).is_file()
    shared = full.odo.sets(odo)[0].clip
    assert shared == checked.clip and full.files.there(shared or ""), "Odo's time is not over"
    with pytest.raises(UsageError, match="no longer kept"):
        full.trainer.try_again(checked.id)
    assert verify(full.database, full.files).problems == ()
    check(full.database, full.files)
    with full.database.write() as session:
        for row in session.scalars(select(TrainingSet)):
            row.uploaded_at = now() - timedelta(days=91)
    tidy(full.database, full.files, 90)
    assert not full.files.there(shared or "") and verify(full.database, full.files).problems == ()


def test_leftovers_of_killed_processes_go_and_work_under_way_stays(full: Studio, tmp_path: Path) -> None:
    folder = full.files.folder
    old, new = folder / ".work-old", folder / ".part-new"
    old.mkdir()
    (old / "drawn.mp4").write_bytes(b"x")
    new.write_bytes(b"x")
    past = now().timestamp() - LEFT_OVER_S - 10
    os.utime(old, (past, past))
    assert verify(full.database, full.files).leftovers == 1
    tidy(full.database, full.files, None)
    assert not old.exists() and new.exists()


@pytest.mark.parametrize("wrong", ["missing", "changed", "report", "job"])
def test_what_does_not_fit_together_is_found(full: Studio, wrong: str) -> None:
    assert verify(full.database, full.files).problems == ()
    clip = full.odo.sets(full.odo.actor.id)[0].clip or ""
    if wrong == "missing":
        full.files.drop(clip)
    elif wrong == "changed":
        full.files.path(clip).write_bytes(b"other")
    else:
        with full.database.write() as session:
            if wrong == "report":
                session.scalars(select(Report)).first().body = '{"schema": '  # type: ignore[union-attr]
            else:
                for job in session.scalars(select(Job)):
                    session.delete(job)
    problems = verify(full.database, full.files).problems
    assert problems and all(p.startswith("Set ") and "Ilse" not in p for p in problems)


def test_files_nothing_points_at_are_told_and_removed_only_when_asked(full: Studio) -> None:
    stray = full.files.keep(io.BytesIO(b"stray"))
    found = verify(full.database, full.files)
    assert found.unused == (stray,) and found.problems == () and full.files.there(stray)
    new_set(full.odo, clip=b"stray")
    assert drop_unused(full.database, full.files, found.unused) == 0, "meanwhile it is someone's"
    stray = full.files.keep(io.BytesIO(b"another"))
    assert drop_unused(full.database, full.files, (stray,)) == 1 and not full.files.there(stray)


def test_a_clip_that_an_erasure_took_away_is_not_acknowledged(
    full: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep = Files.keep

    def taken(self: Files, source: io.BytesIO) -> str:
        address = keep(self, source)
        self.drop(address)
        return address

    monkeypatch.setattr(Files, "keep", taken)
    with pytest.raises(Exception, match="missing from the data folder"):
        full.odo.add_set(NewSet(full.odo.actor.id, "leg-curl", DAY), io.BytesIO(b"new"))
    assert len(full.odo.sets(full.odo.actor.id)) == 1


def test_a_members_archive_holds_theirs_without_secrets_or_faces(full: Studio, tmp_path: Path) -> None:
    with full.database.write() as session:
        session.get_one(Person, full.ilse.actor.id).password = "a hash"
    export_member(full.database, full.files, full.ilse.actor.id, tmp_path / "ilse.zip")
    with zipfile.ZipFile(tmp_path / "ilse.zip") as archive:
        names, data = archive.namelist(), json.loads(archive.read("data.json"))
        contents = [archive.read(n) for n in names]
    assert b"shared" not in contents and b"drawn" in contents and b"picture" in contents
    assert len(data["training_set"]) == 2 and data["decision"][0]["words"] == SECRET
    assert "password" not in data["person"][0] and "hash" not in data["pass"][0]
    assert not any("Odo" in json.dumps(rows) for rows in data.values())
    export_member(full.database, full.files, full.ilse.actor.id, tmp_path / "raw.zip", with_clips=True)
    with zipfile.ZipFile(tmp_path / "raw.zip") as archive:
        assert b"shared" in [archive.read(n) for n in archive.namelist()]


def test_names_in_an_archive_stay_inside_it(full: Studio, tmp_path: Path) -> None:
    with full.database.write() as session:
        for row in session.scalars(select(TrainingSet)):
            row.clip_name = "../../..\\x\ny"
    export_member(full.database, full.files, full.ilse.actor.id, tmp_path / "a.zip", with_clips=True)
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        assert not any(".." in n.split("/") or "\\" in n or "\n" in n for n in archive.namelist())


def test_the_commands_work_on_the_store_the_environment_names(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    database = open_database(f"sqlite:///{tmp_path / 'data' / 'plumbset.db'}")
    migrate(database)
    studio = Studio(database, tmp_path / "data" / "files")
    new_set(studio.ilse)
    check(database, studio.files)
    secret = signin.open_link(database, studio.trainer.make_link(studio.ilse.actor.id))
    number = str(studio.ilse.actor.id)

    def told_by(*arguments: str) -> tuple[int, str]:
        code = run(lambda: cli(list(arguments), standalone_mode=False))
        said = capsys.readouterr()
        return code, said.out + said.err

    assert told_by("backup", str(tmp_path / "b")) == (
        0, f"Kept 3 people, 1 sets and 5 files in {tmp_path / 'b'}.\n",
    )  # fmt: skip
    assert (tmp_path / "b" / ABOUT).is_file()
    assert told_by("verify")[0] == 0
    assert "Ilse  (agreed 2026-01-05)" in told_by("member", "list")[1]
    assert told_by("member", "export", number, "--out", str(tmp_path / "i.zip"))[0] == 0
    assert "--replace" in told_by("restore", str(tmp_path / "b"))[1]
    assert told_by("restore", str(tmp_path / "b"), "--replace")[0] == 0
    assert signin.who(database, secret) is None, "everyone signs in again"
    assert told_by("tidy", "--days", "1") == (0, "0 clips dropped; their reports and numbers are kept.\n")
    code, said = told_by("member", "erase", number, "--yes")
    assert code == 0 and "Backups made before still hold" in said
    assert f"member {number} was erased here" in told_by("restore", str(tmp_path / "b"), "--replace")[1]
    studio.files.drop(next(studio.files.addresses(), "0" * 64))
    new_set(studio.odo, clip=b"odo's")
    studio.files.drop(studio.odo.sets(studio.odo.actor.id)[0].clip or "")
    code, said = told_by("verify", "--quick")
    assert code == 1 and "is missing" in said
    database.close()
