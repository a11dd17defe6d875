"""On real small disks: full, or not to be written to. A sentence, and what was acknowledged is there."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from app.cli import app as cli
from app.cli import run
from app.jobs import queue
from app.jobs.worker import run_with
from app.rules import told
from app.store.access import NewSet
from app.store.backup import backup
from app.store.database import FULL, READ_ONLY, StoreTrouble, migrate, open_database
from app.store.erasing import erase
from app.store.files import Files
from app.store.models import Decision
from app.store.restore import restore
from app.store.verify import verify
from shared.errors import InternalError, PlumbsetError, UsageError
from tests.store.conftest import Studio
from tests.store.disks import Disk, mounted
from tests.store.made import DAY, check, new_set, report
from tests.unit.handmade import analysis
from vision.telling.write import write_outputs


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Disk]:
    with mounted(tmp_path / "disk", 4000) as made:
        yield made


@pytest.fixture
def small(disk: Disk) -> Iterator[Studio]:
    """A studio whose data folder, the database in it, is that disk."""
    database = open_database(f"sqlite:///{disk.folder / 'plumbset.db'}")
    migrate(database)
    yield Studio(database, disk.folder / "files")
    database.close()


def _send(studio: Studio, clip: bytes) -> int:
    return studio.ilse.add_set(NewSet(studio.ilse.actor.id, "leg-curl", DAY), io.BytesIO(clip), "a.mov")[0]


def _notes(studio: Studio) -> list[str]:
    with studio.database.read() as session:
        return [d.words for d in session.query(Decision)]


def test_uploads_until_the_disk_is_full_lose_none(small: Studio, disk: Disk) -> None:
    sent: dict[int, bytes] = {}
    with pytest.raises(PlumbsetError) as told_of:
        for i in range(100):
            clip = bytes([i]) * 200_000
            sent[_send(small, clip)] = clip
    assert len(sent) > 3 and ("No space left" in str(told_of.value) or str(told_of.value) == FULL)
    assert {s.id for s in small.ilse.sets(small.ilse.actor.id)} == set(sent)
    for set_id, clip in sent.items():
        assert small.files.path(small.ilse.set(set_id).clip or "").read_bytes() == clip
    assert verify(small.database, small.files).problems == ()
    assert not list(small.files.folder.glob(".part-*"))


def test_notes_on_a_full_disk_are_told_to_be_lost_and_those_before_stay(small: Studio, disk: Disk) -> None:
    set_id = new_set(small.ilse)
    small.trainer.decide(set_id, [told.NOTE], "note", "the first")
    filler = disk.fill()
    taken = ["the first"]
    with pytest.raises(StoreTrouble) as told_of:
        for i in range(20_000):
            small.trainer.decide(set_id, [told.NOTE], "note", f"{i} " + "x" * 500)
            taken.append(f"{i} " + "x" * 500)
    assert str(told_of.value) == FULL and _notes(small) == taken
    filler.unlink()
    small.trainer.decide(set_id, [told.NOTE], "note", "the last")
    assert _notes(small) == [*taken, "the last"] and verify(small.database, small.files).problems == ()


def test_a_check_on_a_full_disk_is_a_sentence_on_the_set_and_can_be_had_again(
    studio: Studio, disk: Disk
) -> None:
    set_id = new_set(studio.ilse)
    files = Files(disk.folder / "files")
    job = queue.claim(studio.database)
    filler = disk.fill()

    def writes(job: queue.Claimed, files: Files, folder: Path, say: Any) -> queue.Outcome:
        return queue.Outcome(report(), annotated=files.keep(io.BytesIO(bytes(100_000))))

    assert job is not None
    run_with(studio.database, files, job, writes)
    assert "No space left" in studio.ilse.told(set_id).problems[0]
    filler.unlink()
    studio.trainer.try_again(set_id)
    job = queue.claim(studio.database)
    assert job is not None
    run_with(studio.database, files, job, writes)
    assert studio.ilse.set(set_id).status in ("checked", "unfit")


def test_a_folder_that_may_not_be_written_to_is_a_sentence_and_can_be_read(small: Studio, disk: Disk) -> None:
    set_id = new_set(small.ilse)
    check(small.database, small.files)
    small.database.close()
    disk.read_only()
    try:
        with pytest.raises(UsageError, match=r"could not be kept \(Read-only file system\)"):
            small.files.keep(io.BytesIO(b"another"))
        with pytest.raises(UsageError, match="Read-only"), small.files.work():
            pass
        for write in (
            lambda: _send(small, b"another"),
            lambda: small.trainer.decide(set_id, [told.NOTE], "note", "x"),
            lambda: erase(small.database, small.files, small.ilse.actor.id),
            lambda: migrate(small.database),
        ):
            with pytest.raises(StoreTrouble) as told_of:
                write()
            assert str(told_of.value) == READ_ONLY
        with pytest.raises(InternalError, match="could not be removed"):
            small.files.drop(small.files.folder.glob("*/*").__next__().name)
    finally:
        small.database.close()
        disk.read_only(False)
    assert [s.id for s in small.ilse.sets(small.ilse.actor.id)] == [set_id]
    small.trainer.decide(set_id, [told.NOTE], "note", "again")
    assert _notes(small) == ["again"] and verify(small.database, small.files).problems == ()


@pytest.mark.parametrize("command", [["verify"], ["tidy", "--days", "1"], ["member", "list"]])
def test_commands_on_such_a_folder_end_with_one_sentence(
    small: Studio, disk: Disk, command: list[str], monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("PLUMBSET_DATA", str(disk.folder))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    small.database.close()
    disk.read_only()
    try:
        assert run(lambda: cli(command, standalone_mode=False)) == 1
    finally:
        disk.read_only(False)
    assert capsys.readouterr().err == f"plumbset: {READ_ONLY}\n"


def test_a_backup_onto_a_full_disk_is_a_sentence_and_the_one_before_comes_back(
    studio: Studio, disk: Disk, tmp_path: Path
) -> None:
    kept = new_set(studio.ilse)
    backup(studio.database, studio.files, disk.folder / "b")
    new_set(studio.ilse, clip=bytes(8_000_000))
    with pytest.raises(UsageError, match=r"No space left|could not be written"):
        backup(studio.database, studio.files, disk.folder / "b")
    back = open_database(f"sqlite:///{tmp_path / 'back.db'}")
    restore(disk.folder / "b", back, Files(tmp_path / "back"))
    assert [s.id for s in Studio(back, tmp_path / "back").trainer.sets(studio.ilse.actor.id)] == [kept]
    assert verify(back, Files(tmp_path / "back")).problems == ()
    back.close()


class _NoClip:
    """A clip whose pictures are gone."""

    clip = analysis().clip

    def frames(self, *_: float, **__: float) -> Any:
        return iter(())


@pytest.mark.parametrize("why", ["Read-only file system", "No space left on device"])
def test_a_report_that_cannot_be_written_is_a_sentence_and_the_one_before_stays(disk: Disk, why: str) -> None:
    out = disk.folder / "out"
    write_outputs(_NoClip(), analysis(), out)  # type: ignore[arg-type]
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    if why.startswith("Read"):
        disk.read_only()
    else:
        disk.fill()
    with pytest.raises(UsageError, match=rf"cannot be written to \({why}\); .*--out"):
        write_outputs(_NoClip(), analysis(), out)  # type: ignore[arg-type]
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
