"""A set filmed from two sides: the second clip is added, checked with the first, and kept as long as that."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import BinaryIO

import pytest
from sqlalchemy import select

from app.jobs import queue
from app.store.backup import backup
from app.store.bin import empty_bin
from app.store.erasing import erase
from app.store.export import export_member
from app.store.models import TrainingSet, now
from app.store.retention import drop_clips
from app.store.rules import Refused
from app.store.verify import verify
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import check, new_set


@pytest.fixture
def paired(studio: Studio) -> int:
    """A set of Ilse's that was handed over, then given a second clip, and is checked again."""
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    return set_id


def _second(studio: Studio, set_id: int) -> str:
    return studio.trainer.set(set_id).second_clip or ""


def test_both_clips_are_checked_and_the_set_waits_again(studio: Studio, paired: int) -> None:
    assert studio.ilse.set(paired).status == "checking"
    job = queue.claim(studio.database)
    assert job is not None and (job.second, job.second_name) == (_second(studio, paired), "front.mov")
    assert [one.set_id for one in studio.trainer.waiting()] == [paired]


def test_a_set_of_one_clip_is_checked_as_ever(studio: Studio) -> None:
    new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None and job.second is None


def test_only_one_more_clip_and_another_one_is_taken(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    with pytest.raises(UsageError, match="still being checked"):
        studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    check(studio.database, studio.files)
    with pytest.raises(UsageError, match="has already"):
        studio.ilse.add_second(set_id, io.BytesIO(b"clip"), "tuesday.mov")
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    check(studio.database, studio.files)
    with pytest.raises(UsageError, match="two clips already"):
        studio.ilse.add_second(set_id, io.BytesIO(b"back"), "back.mov")


def test_another_member_adds_nothing(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    with pytest.raises(Refused):
        studio.odo.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    studio.trainer.add_second(set_id, io.BytesIO(b"front"), "front.mov")


def test_none_is_taken_while_pain_stops_the_member_or_without_the_first(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.ilse.delete_clip(set_id)
    with pytest.raises(UsageError, match="first clip"):
        studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    studio.ilse.put_back(set_id)
    studio.ilse.tell_pain(studio.ilse.actor.id, "hip")
    with pytest.raises(UsageError):
        studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")


@pytest.mark.parametrize("second", [False, True])
def test_a_clip_whose_set_is_refused_while_it_is_being_kept_goes_again(
    studio: Studio, monkeypatch: pytest.MonkeyPatch, second: bool
) -> None:
    ilse, keep = studio.ilse, studio.files.keep
    set_id = new_set(ilse)
    check(studio.database, studio.files)
    before = set(studio.files.addresses())

    def keeping(clip: BinaryIO) -> str:
        address = keep(clip)
        studio.trainer.tell_pain(ilse.actor.id)
        return address

    monkeypatch.setattr(studio.files, "keep", keeping)
    with pytest.raises(UsageError, match="Pain was reported"):
        ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov") if second else new_set(ilse, clip=b"new")
    with pytest.raises(UsageError, match="Pain was reported"):
        new_set(ilse, clip=b"clip")
    assert set(studio.files.addresses()) == before, "what another set needs stays"


@pytest.mark.parametrize("way", ["retention", "bin", "erase"])
def test_the_second_clip_goes_with_the_first(studio: Studio, paired: int, way: str) -> None:
    check(studio.database, studio.files)
    second = _second(studio, paired)
    assert studio.files.there(second) and verify(studio.database, studio.files).problems == ()
    if way == "erase":
        erase(studio.database, studio.files, studio.ilse.actor.id)
    elif way == "bin":
        studio.ilse.delete_clip(paired)
        with studio.database.write() as session:
            session.scalars(select(TrainingSet)).one().binned_at = now() - timedelta(days=8)
        empty_bin(studio.database, studio.files)
    else:
        with studio.database.write() as session:
            session.scalars(select(TrainingSet)).one().uploaded_at = now() - timedelta(days=91)
        drop_clips(studio.database, studio.files, 90)
    assert not studio.files.there(second)


def test_the_second_clip_is_in_a_backup_and_stays_where_another_has_sent_the_same(
    studio: Studio, paired: int, tmp_path: Path
) -> None:
    check(studio.database, studio.files)
    second = _second(studio, paired)
    backup(studio.database, studio.files, tmp_path / "backup")
    assert list((tmp_path / "backup").rglob(second))
    new_set(studio.odo, clip=b"front")
    erase(studio.database, studio.files, studio.odo.actor.id)
    assert studio.files.there(second), "erasing one member takes another one's second clip"


def test_the_second_clip_is_in_the_archive_with_clips(studio: Studio, paired: int, tmp_path: Path) -> None:
    who = studio.ilse.actor.id
    export_member(studio.database, studio.files, who, tmp_path / "ilse.zip", with_clips=True)
    assert f"sets/{paired}/as-sent-second-front.mov" in zipfile.ZipFile(tmp_path / "ilse.zip").namelist()
