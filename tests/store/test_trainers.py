"""Several trainers, who looked at whose clip, and clips that are deleted on the page."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select

from app.jobs import queue
from app.rules import told
from app.store import signin
from app.store.access import Access
from app.store.bin import days_left, empty_bin
from app.store.check_again import DELETED
from app.store.models import Pass, TrainingSet, now
from app.store.records import Look
from app.store.retention import drop_clips
from app.store.rules import Refused
from app.store.verify import verify
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import check, new_set


def _second(studio: Studio) -> tuple[Access, str]:
    """A second trainer, who came in by the owner's link, and their session."""
    secret = signin.open_link(studio.database, studio.trainer.invite_trainer("Bero"))
    actor = signin.who(studio.database, secret)
    assert actor is not None and actor.is_trainer
    return Access(studio.database, studio.files, actor), secret


def test_a_second_trainer_comes_in_once_and_decides_under_their_own_name(studio: Studio) -> None:
    link = studio.trainer.invite_trainer("Bero")
    assert signin.open_link(studio.database, link)
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, link)
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    bero, _ = _second(studio)
    studio.trainer.decide(set_id, ["knee-lockout:4"], "agree")
    bero.decide(set_id, ["knee-lockout:4"], "no-fault")
    bero.decide(set_id, [told.NOTE], "note", "Well done.")
    said = [(d.trainer, d.finding, d.kind, d.words) for d in studio.trainer.decisions(set_id)]
    assert said == [
        ("Runa", "knee-lockout:4", "agree", ""), ("Bero", "knee-lockout:4", "no-fault", ""),
        ("Bero", told.NOTE, "note", "Well done."),
    ]  # fmt: skip


def test_who_leaves_is_shut_out_at_once_and_their_work_stays(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    bero, session = _second(studio)
    signin.set_account(studio.database, bero.actor, "bero", "a short sentence")
    again = signin.sign_in(studio.database, "bero", "a short sentence")
    bero.decide(set_id, [told.NOTE], "note", "Well done.")
    bero.release(set_id)
    assert signin.know_device(studio.database, again, None) is not None
    studio.trainer.let_go(bero.actor.id)
    with studio.database.read() as kept:
        rows = kept.scalars(select(Pass).where(Pass.person_id == bero.actor.id)).all()
    assert {row.kind for row in rows} == {"session", "invited", "device"} and all(r.revoked_at for r in rows)
    assert signin.who(studio.database, session) is None and signin.who(studio.database, again) is None
    with pytest.raises(signin.NotLetIn):
        signin.sign_in(studio.database, "bero", "a short sentence")
    assert [d.trainer for d in studio.trainer.decisions(set_id)] == ["Bero"]
    assert studio.ilse.told(set_id).by == "Bero"
    assert [(t.name, t.active, t.owner) for t in studio.trainer.trainers()] == [
        ("Runa", True, True), ("Bero", False, False),
    ]  # fmt: skip


def test_only_the_owner_lets_come_and_go_and_the_owner_stays(studio: Studio) -> None:
    bero, _ = _second(studio)
    assert studio.trainer.is_owner() and not bero.is_owner() and not studio.ilse.is_owner()
    for access in (bero, studio.ilse):
        for call in (lambda a: a.invite_trainer("Odo"), lambda a: a.let_go(1), lambda a: a.looks()):
            with pytest.raises(Refused):
                call(access)
    with pytest.raises(UsageError, match="You are the owner"):
        studio.trainer.let_go(studio.trainer.actor.id)
    with pytest.raises(Refused):
        studio.trainer.let_go(studio.ilse.actor.id)


def test_the_owner_reads_who_looked_at_whose_clip(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    bero, _ = _second(studio)
    bero.clip_file(set_id)
    bero.clip_file(set_id)
    bero.report_page(set_id)
    studio.trainer.picture(set_id, "knee-lockout:4")
    studio.ilse.picture(set_id, "knee-lockout:4")
    looks = [(look.trainer, look.member, look.set_id) for look in studio.trainer.looks()]
    assert looks == [("Runa", "Ilse", set_id), ("Bero", "Ilse", set_id)]
    with studio.database.read() as session:
        assert len(list(session.scalars(select(Look)))) == 2


def test_a_deleted_clip_is_out_of_sight_at_once_and_its_numbers_stay(studio: Studio) -> None:
    set_id = new_set(studio.ilse, pain=True, pain_where="left knee")
    check(studio.database, studio.files)
    studio.ilse.delete_clip(set_id)
    trainer = studio.trainer
    with pytest.raises(Refused):
        trainer.clip_file(set_id)
    assert not trainer.has_clip(set_id) and not trainer.has_page(set_id)
    assert trainer.report_page(set_id) is None and trainer.picture(set_id, "knee-lockout:4") is None
    with pytest.raises(UsageError, match="was deleted"):
        trainer.try_again(set_id)
    assert trainer.report(set_id) is not None and trainer.set(set_id).pain, "pain is never untold by it"
    assert days_left(trainer.set(set_id)) == 7
    studio.ilse.put_back(set_id)
    assert trainer.clip_file(set_id).is_file()


def test_after_a_week_what_was_deleted_is_gone_for_good(studio: Studio) -> None:
    set_id, other = new_set(studio.ilse, clip=b"hers"), new_set(studio.odo, clip=b"his")
    check(studio.database, studio.files)
    clip = studio.ilse.set(set_id).clip or ""
    studio.ilse.delete_clip(set_id)
    assert empty_bin(studio.database, studio.files) == 0 and studio.files.there(clip)
    with studio.database.write() as session:
        session.get_one(TrainingSet, set_id).binned_at = now() - timedelta(days=7, seconds=1)
    assert empty_bin(studio.database, studio.files) == 1
    report = studio.trainer.report(set_id)
    assert report is not None and not studio.files.there(clip)
    left = {studio.files.path(a).read_bytes() for a in studio.files.addresses()}
    assert left == {b"his", b"time_s,knee_deg\n0,90\n"}
    with pytest.raises(UsageError, match="week is over"):
        studio.ilse.put_back(set_id)
    assert verify(studio.database, studio.files).problems == () and studio.odo.set(other).clip


@pytest.mark.parametrize("first", ["dropped", "deleted"])
def test_the_drawn_clip_goes_with_the_week_even_where_the_sent_one_went_before(
    studio: Studio, first: str
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    if first == "deleted":
        studio.ilse.delete_clip(set_id)
    with studio.database.write() as session:
        session.get_one(TrainingSet, set_id).uploaded_at = now() - timedelta(days=91)
    assert drop_clips(studio.database, studio.files, 90) == 1
    if first == "dropped":
        assert studio.trainer.has_clip(set_id)
        studio.ilse.delete_clip(set_id)
    assert not studio.trainer.has_clip(set_id)
    with studio.database.write() as session:
        session.get_one(TrainingSet, set_id).binned_at = now() - timedelta(days=7, seconds=1)
    assert empty_bin(studio.database, studio.files) == 1 and empty_bin(studio.database, studio.files) == 0
    left = {studio.files.path(a).read_bytes() for a in studio.files.addresses()}
    assert left == {b"time_s,knee_deg\n0,90\n"}


def test_a_trainer_does_not_put_back_what_the_member_deleted(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    studio.ilse.delete_clip(set_id)
    for access in (studio.trainer, studio.odo):
        with pytest.raises(Refused):
            access.put_back(set_id)
    studio.ilse.put_back(set_id)
    studio.trainer.delete_clip(set_id)
    studio.trainer.put_back(set_id)
    assert studio.ilse.set(set_id).binned_at is None


def test_deleting_ends_the_check_that_is_under_way_and_putting_back_starts_it_anew(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None
    studio.ilse.delete_clip(set_id)
    with pytest.raises(queue.JobLost):
        queue.beat(studio.database, job, "Following the set", 0.5)
    assert queue.claim(studio.database) is None and studio.ilse.set(set_id).message == DELETED
    studio.ilse.put_back(set_id)
    assert queue.claim(studio.database) is not None


def test_the_way_in_of_a_new_trainer_ends_when_they_are_let_go_before(studio: Studio) -> None:
    link = studio.trainer.invite_trainer("Bero")
    (bero,) = [t.id for t in studio.trainer.trainers() if t.name == "Bero"]
    studio.trainer.let_go(bero)
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, link)
    with studio.database.read() as session:
        assert all(row.revoked_at for row in session.scalars(select(Pass)))
