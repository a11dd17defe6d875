"""A member in the archive: nothing of theirs is lost, no list shows them, and nothing lets them in."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest

from app.store import signin
from app.store.erasing import erase
from app.store.rules import Refused
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set


def test_an_archived_member_is_on_no_list_and_nothing_lets_them_in(studio: Studio) -> None:
    ilse, trainer = studio.ilse.actor.id, studio.trainer
    new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.ilse.tell_pain(ilse, "hip")
    link = trainer.make_link(ilse)
    session = signin.session_for(studio.database, studio.ilse.actor)
    trainer.archive_member(ilse)
    assert ilse not in {m.id for m in trainer.members()} and [p.id for p in trainer.archived()] == [ilse]
    assert not trainer.waiting() and not trainer.stopped()
    assert ilse not in {one.person_id for one in trainer.week(DAY).not_looked_at}
    assert signin.who(studio.database, session) is None
    with pytest.raises(UsageError):
        signin.open_link(studio.database, link)
    with pytest.raises(Refused):
        trainer.make_link(ilse)
    with pytest.raises(Refused):
        trainer.archive_member(ilse)


def test_a_member_who_is_brought_back_has_all_that_was_theirs(studio: Studio) -> None:
    ilse, trainer = studio.ilse.actor.id, studio.trainer
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    old = trainer.make_link(ilse)
    trainer.archive_member(ilse)
    trainer.bring_back(ilse)
    assert ilse in {m.id for m in trainer.members()} and not trainer.archived()
    assert [one.set_id for one in trainer.waiting()] == [set_id]
    with pytest.raises(UsageError):
        signin.open_link(studio.database, old)
    assert signin.open_link(studio.database, trainer.make_link(ilse))


def test_the_zip_of_an_archived_member_holds_their_sets(studio: Studio, tmp_path: Path) -> None:
    ilse = studio.ilse.actor.id
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.archive_member(ilse)
    studio.trainer.export_member(ilse, tmp_path / "ilse.zip")
    names = zipfile.ZipFile(tmp_path / "ilse.zip").namelist()
    assert "data.json" in names and f"sets/{set_id}/check-1/drawn.mp4" in names
    assert not any("as-sent" in name for name in names)


def test_who_was_erased_is_in_no_archive(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.archive_member(ilse)
    erase(studio.database, studio.files, ilse)
    assert not studio.trainer.archived()
    with pytest.raises(Refused):
        studio.trainer.bring_back(ilse)
