"""Backups when something is wrong: what is lost is named, the rest is kept and comes back; sealed ones."""

from __future__ import annotations

import json
import sqlite3
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import select

from app.cli import app as cli
from app.cli import run
from app.store import signin
from app.store.backup import STORE, backup
from app.store.database import Database, migrate, open_database
from app.store.erasing import backups_made, erase, note_backup, unfinished
from app.store.export import export_member
from app.store.files import Files
from app.store.models import Pass, Person, Throttle, TrainingSet
from app.store.restore import restore
from app.store.sealed import Seal, make_key, seal_of
from app.store.tellings import Cleared, Telling
from app.store.verify import verify
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import check, new_set

SECRET = "the left knee of Ilse"


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Database]:
    opened = open_database(f"sqlite:///{tmp_path / 'other' / 'plumbset.db'}")
    yield opened
    opened.close()


@pytest.fixture
def two(studio: Studio) -> tuple[Studio, Path]:
    """A studio with two clips, and where that of the first lies."""
    first = new_set(studio.ilse, clip=b"the first clip", pain=True, pain_where=SECRET)
    new_set(studio.odo, clip=b"the second clip")
    return studio, studio.files.path(studio.ilse.set(first).clip or "")


@pytest.mark.parametrize("damage", ["missing", "rotten"])
def test_a_lost_source_is_named_and_the_rest_is_kept(
    two: tuple[Studio, Path], other: Database, tmp_path: Path, damage: str
) -> None:
    studio, clip = two
    clip.unlink() if damage == "missing" else clip.write_bytes(b"rot")
    kept = backup(studio.database, studio.files, tmp_path / "b")
    assert (kept.sets, kept.files) == (2, 1)
    what = "is missing" if damage == "missing" else "is not what was kept"
    assert kept.problems == (f"Set 1: the file {clip.name[:12]} in the data folder {what}.",)
    files = Files(tmp_path / "other-files")
    back = restore(tmp_path / "b", other, files)
    assert back.problems == (f"Set 1: the file {clip.name[:12]} in the backup is missing.",)
    assert [files.path(a).read_bytes() for a in files.addresses()] == [b"the second clip"]
    with other.read() as session:
        assert len(list(session.scalars(select(TrainingSet)))) == 2


def test_a_source_lost_later_is_named_and_the_backup_keeps_its_copy(
    two: tuple[Studio, Path], other: Database, tmp_path: Path
) -> None:
    studio, clip = two
    assert backup(studio.database, studio.files, tmp_path / "b").problems == ()
    clip.write_bytes(b"rot")
    (problem,) = backup(studio.database, studio.files, tmp_path / "b").problems
    assert problem.endswith("is not what was kept; an earlier copy is kept.")
    files = Files(tmp_path / "other-files")
    assert restore(tmp_path / "b", other, files).problems == () and files.sound(clip.name)


def test_what_was_told_of_pain_is_kept_taken_along_and_erased_with_its_member(
    two: tuple[Studio, Path], other: Database, tmp_path: Path
) -> None:
    studio, ilse, files = two[0], two[0].ilse.actor.id, Files(tmp_path / "other-files")
    studio.trainer.clear_pain(ilse, studio.trainer.pain(ilse).last)
    backup(studio.database, studio.files, tmp_path / "b")
    restore(tmp_path / "b", other, files)
    export_member(other, files, ilse, tmp_path / "ilse.zip")
    with zipfile.ZipFile(tmp_path / "ilse.zip") as archive:
        rows = json.loads(archive.read("data.json"))
    assert [row["place"] for row in rows["telling"]] == [SECRET] and len(rows["cleared"]) == 1
    erase(other, files, ilse)
    with other.read() as session:
        assert not session.scalars(select(Telling)).all() and not session.scalars(select(Cleared)).all()


def test_what_lies_in_the_backup_is_read_before_it_is_trusted(
    two: tuple[Studio, Path], other: Database, tmp_path: Path
) -> None:
    studio, clip = two
    backup(studio.database, studio.files, tmp_path / "b")
    copy = tmp_path / "b" / "files" / clip.name[:2] / clip.name
    copy.write_bytes(b"rot")
    assert backup(studio.database, studio.files, tmp_path / "b").problems == ()
    assert copy.read_bytes() == b"the first clip"
    copy.write_bytes(b"rot")
    files = Files(tmp_path / "other-files")
    (problem,) = restore(tmp_path / "b", other, files).problems
    assert "in the backup is not what was kept" in problem and not files.there(clip.name)


def test_a_restore_forgets_no_erasing_and_no_later_backup(two: tuple[Studio, Path], tmp_path: Path) -> None:
    studio, _ = two
    ilse = studio.ilse.actor.id
    note_backup(studio.database, tmp_path / "first")
    backup(studio.database, studio.files, tmp_path / "first")
    note_backup(studio.database, tmp_path / "second")
    work = studio.files.folder / ".part-upload"
    work.mkdir()
    erase(studio.database, studio.files, ilse)
    assert unfinished(studio.database) == [ilse], "something is still being written"
    restore(tmp_path / "first", studio.database, studio.files, replace=True)
    assert unfinished(studio.database) == [ilse]
    assert [Path(b.place).name for b in backups_made(studio.database)] == ["second", "first"]


def test_nothing_that_lets_someone_in_is_in_a_backup(studio: Studio, tmp_path: Path) -> None:
    studio.trainer.make_link(studio.ilse.actor.id)
    backup(studio.database, studio.files, tmp_path / "b")
    with sqlite3.connect(tmp_path / "b" / STORE) as store:
        found = [store.execute(f"SELECT count(*) FROM {table}").fetchone() for table in ("pass", "throttle")]
    store.close()
    assert found == [(0,), (0,)]


def test_nothing_that_lets_someone_in_comes_back_even_from_a_backup_that_holds_it(
    two: tuple[Studio, Path], other: Database, tmp_path: Path
) -> None:
    studio, _ = two
    backup(studio.database, studio.files, tmp_path / "b")
    secret = "an old session"
    with sqlite3.connect(tmp_path / "b" / STORE) as store:
        store.execute(
            "INSERT INTO pass (hash, kind, person_id, expires_at, created_at) "
            "VALUES (?, 'session', 1, '2999-01-01', '2026-01-01')", (signin.hashed(secret),),
        )  # fmt: skip
        store.execute("INSERT INTO throttle (key, wrong) VALUES ('login:runa', 9)")
    store.close()
    restore(tmp_path / "b", other, Files(tmp_path / "other-files"))
    assert signin.who(other, secret) is None
    with other.read() as session:
        assert not list(session.scalars(select(Pass))) and not list(session.scalars(select(Throttle)))
        assert list(session.scalars(select(Person)))


def _seal(folder: Path, name: str = "key") -> Seal:
    place = folder / name
    if not place.exists():
        make_key(place)
    made = seal_of(place)
    assert made is not None
    return made


def test_a_sealed_backup_tells_nothing_and_comes_back_with_its_key_alone(
    two: tuple[Studio, Path], other: Database, tmp_path: Path
) -> None:
    studio, _ = two
    check(studio.database, studio.files)
    kept = backup(studio.database, studio.files, tmp_path / "b", _seal(tmp_path))
    assert kept.problems == () and kept.files == 6
    for path in (p for p in (tmp_path / "b").rglob("*") if p.is_file()):
        data = path.read_bytes()
        # Long enough, or with a space, that base64 does not spell them by chance.
        assert not any(told in data for told in (SECRET.encode(), b"first clip", b"drawn", b"SQLite format"))
    files = Files(tmp_path / "other-files")
    with pytest.raises(UsageError, match="--key-file"):
        restore(tmp_path / "b", other, files)
    with pytest.raises(UsageError, match="does not open"):
        restore(tmp_path / "b", other, files, seal=_seal(tmp_path, "another"))
    with pytest.raises(UsageError, match="is sealed"):
        backup(studio.database, studio.files, tmp_path / "b")
    assert restore(tmp_path / "b", other, files, seal=_seal(tmp_path)) == kept
    assert verify(other, files).problems == ()


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
@pytest.mark.parametrize("damage", ["cut", "changed", "piece left out", "of another file"])
def test_a_sealed_file_that_is_not_whole_is_told_and_made_again(
    two: tuple[Studio, Path], other: Database, tmp_path: Path, damage: str
) -> None:
    studio, clip = two
    seal = _seal(tmp_path)
    backup(studio.database, studio.files, tmp_path / "b", seal)
    place = tmp_path / "b" / "files" / clip.name[:2] / clip.name
    whole, others = place.read_bytes(), [p for p in (tmp_path / "b" / "files").glob("*/*") if p != place]
    if damage == "cut":
        place.write_bytes(whole[:-20])
    elif damage == "changed":
        place.write_bytes(whole[:40] + bytes([whole[40] ^ 1]) + whole[41:])
    elif damage == "piece left out":
        place.write_bytes(whole.split(b"\n")[-2] + b"\n")
    else:
        place.write_bytes(others[0].read_bytes())
    (problem,) = restore(tmp_path / "b", other, Files(tmp_path / "other-files"), seal=seal).problems
    assert clip.name[:12] in problem
    assert backup(studio.database, studio.files, tmp_path / "b", seal).problems == ()
    files = Files(tmp_path / "third-files")
    assert restore(tmp_path / "b", other, files, replace=True, seal=seal).problems == ()
    assert files.path(clip.name).read_bytes() == b"the first clip"


def test_a_key_that_others_may_read_or_that_is_none_is_refused(tmp_path: Path, database: Database) -> None:
    make_key(tmp_path / "key")
    with pytest.raises(UsageError, match="File exists"):
        make_key(tmp_path / "key")
    (tmp_path / "key").chmod(0o644)
    with pytest.raises(UsageError, match="read by others"):
        seal_of(tmp_path / "key")
    (tmp_path / "word").write_text("a password", encoding="utf-8")
    (tmp_path / "word").chmod(0o600)
    with pytest.raises(UsageError, match="holds no key"):
        seal_of(tmp_path / "word")
    with pytest.raises(UsageError, match="cannot be read"):
        seal_of(tmp_path / "none")


def test_the_commands_say_what_was_lost_and_end_with_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], database: Database
) -> None:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    kept = open_database(f"sqlite:///{tmp_path / 'data' / 'plumbset.db'}")
    migrate(kept)
    studio = Studio(kept, tmp_path / "data" / "files")
    clip = studio.ilse.set(new_set(studio.ilse)).clip or ""
    kept.close()

    def told_by(*arguments: str) -> tuple[int, str]:
        code = run(lambda: cli(list(arguments), standalone_mode=False))
        said = capsys.readouterr()
        return code, said.out + said.err

    key, place = str(tmp_path / "key"), str(tmp_path / "b")
    assert told_by("backup-key", key)[0] == 0
    assert told_by("backup", place, "--key-file", key)[0] == 0
    assert told_by("restore", place, "--replace", "--key-file", key)[0] == 0
    assert told_by("backup-key", str(tmp_path / "b" / "key"))[0] == 0
    assert "keep it somewhere else" in told_by("backup", place, "--key-file", str(tmp_path / "b" / "key"))[1]
    studio.files.drop(clip)
    code, said = told_by("backup", place, "--key-file", key)
    assert code == 1 and f"Set 1: the file {clip[:12]} in the data folder is missing" in said
    Files(tmp_path / "b" / "files").drop(clip)
    code, said = told_by("restore", place, "--replace", "--key-file", key)
    assert code == 1 and f"Set 1: the file {clip[:12]} in the backup is missing." in said
    assert "Restored 3 people, 1 sets and 0 files." in said
