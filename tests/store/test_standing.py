"""What a set is once a check of it ended badly, and whether it waits once a hand-over is taken back."""

from __future__ import annotations

import io
from datetime import date, datetime

import pytest
from sqlalchemy import MetaData, select
from sqlalchemy.exc import OperationalError

from app.jobs import queue
from app.store import models, review
from app.store.check_again import DELETED
from app.store.database import migrate, open_database
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from tests.store.test_handing import _checked, _fail


def test_a_second_clip_that_cannot_be_checked_takes_nothing_away(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "no-fault")
    studio.trainer.release(set_id)
    sent = studio.ilse.told(set_id)
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    for _ in range(2):
        _fail(studio)
        row = studio.trainer.set(set_id)
        assert (row.status, row.message, row.reviewed_at) == ("checked", "front.mov is no video.", None)
        assert row.count == report().count and len(studio.trainer.history(studio.ilse.actor.id)) == 1
        assert "Could not be checked" not in studio.trainer.waiting()[0].reason
        studio.trainer.try_again(set_id)
    check(studio.database, studio.files)
    assert studio.trainer.set(set_id).message == ""
    assert studio.ilse.told(set_id) == sent, "a cue that the trainer rejected reaches the member"


def test_a_second_clip_that_could_not_be_checked_is_replaced_and_dropped(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.ilse.add_second(set_id, io.BytesIO(b"%PDF"), "plan.pdf")
    _fail(studio)
    bad = studio.trainer.set(set_id).second_clip or ""
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    job = queue.claim(studio.database)
    assert job is not None and job.second_name == "front.mov" and not studio.files.there(bad)


def test_a_set_that_is_deleted_while_it_is_checked_again_keeps_its_numbers(studio: Studio) -> None:
    set_id = _checked(studio)
    before, sent = studio.trainer.history(studio.ilse.actor.id), studio.ilse.told(set_id)
    studio.trainer.try_again(set_id)
    studio.ilse.delete_clip(set_id)
    row = studio.trainer.set(set_id)
    assert (row.status, row.count, row.message) == ("checked", report().count, DELETED)
    assert studio.trainer.history(studio.ilse.actor.id) == before and studio.ilse.told(set_id) == sent
    studio.ilse.put_back(set_id)
    assert studio.trainer.set(set_id).status == "checking", "the check that was cut short is made up for"


@pytest.mark.parametrize(("exercise", "side"), [("chest-press", None), ("leg-extension", "left")])
def test_what_was_found_as_another_machine_or_side_is_not_shown_where_the_check_fails(
    studio: Studio, exercise: str, side: str | None
) -> None:
    set_id = _checked(studio)
    studio.trainer.check_as(set_id, exercise, side)
    _fail(studio)
    assert studio.trainer.set(set_id).status == "failed" and studio.ilse.told(set_id).prompts == []


def test_an_approved_set_that_is_checked_as_another_machine_is_approved_no_more(studio: Studio) -> None:
    set_id, who = _checked(studio), studio.ilse.actor.id
    studio.trainer.release(set_id)
    studio.trainer.make_reference(set_id)
    studio.trainer.check_as(set_id, "chest-press", None)
    assert studio.trainer.reference(who, "leg-extension") is None
    new_set(studio.ilse, clip=b"another")
    jobs = [queue.claim(studio.database) for _ in range(2)]
    assert [job and job.approved for job in jobs] == [None, None]


@pytest.mark.parametrize("since", ["pain", "second clip", "second clip that fails", "nothing"])
def test_a_set_that_waited_before_it_was_handed_over_waits_again_once_that_is_taken_back(
    studio: Studio, since: str
) -> None:
    set_id = _checked(studio)
    studio.trainer.release(set_id)
    if since == "pain":
        studio.ilse.after_set(set_id, None, True, "knee")
    elif since == "second clip":
        studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
        check(studio.database, studio.files)
    elif since == "second clip that fails":
        studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
        _fail(studio)
    waited = studio.trainer.waiting()
    studio.trainer.release(set_id)
    assert not studio.trainer.waiting()
    studio.trainer.recall(set_id)
    assert studio.trainer.waiting() == waited and bool(waited) is (since != "nothing")


def test_pain_told_since_a_set_was_handed_over_keeps_it_waiting_once_that_is_taken_back(
    studio: Studio,
) -> None:
    set_id = _checked(studio)
    for _ in range(2):
        studio.trainer.release(set_id)
    studio.ilse.after_set(set_id, None, True, "knee")
    studio.trainer.recall(set_id)
    assert [one.set_id for one in studio.trainer.waiting()] == [set_id]


@pytest.mark.parametrize("database", ["postgresql"], indirect=True)
def test_while_a_moment_is_named_nobody_else_says_anything_of_the_set(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_id, refused = _checked(studio), []
    count = review._count_added

    def counting(session: object, asked: int) -> int:
        row = select(models.TrainingSet).where(models.TrainingSet.id == asked)
        with (
            studio.database.engine.connect() as other,
            pytest.raises(OperationalError, match="lock") as found,
        ):
            other.execute(row.with_for_update(nowait=True))
        refused.append(found)
        return count(session, asked)  # type: ignore[arg-type]

    monkeypatch.setattr(review, "_count_added", counting)
    for words in ("Feet flat.", "Slow down."):
        studio.trainer.add_moment(set_id, 1.0, words)
    said = studio.trainer.said(set_id)
    assert len(refused) == 2 and [one.words for one in said.values()] == ["Feet flat.", "Slow down."]


def test_what_was_approved_on_a_machine_that_it_was_not_is_dropped_with_the_upgrade(empty_url: str) -> None:
    database, at = open_database(empty_url), datetime(2026, 3, 2, 10)
    migrate(database, "0019")
    tables = MetaData()
    tables.reflect(database.engine)
    person = {"name": "Ilse", "role": "member", "beginner": False, "active": True, "asked_at_sets": 0}
    a_set = {
        "person_id": 1, "exercise": "leg-curl", "clip_name": "", "unit": "kg", "done_on": date(2026, 3, 2),
        "uploaded_at": at, "pain_before": False, "pain_after": False, "pain_where": "", "status": "checked",
        "message": "", "worry": 70, "worry_words": "",
    }  # fmt: skip
    with database.write() as session:
        session.execute(tables.tables["person"].insert(), {**person, "created_at": at})
        session.execute(tables.tables["training_set"].insert(), a_set)
        for exercise in ("leg-curl", "leg-extension"):
            approved = {"person_id": 1, "exercise": exercise, "set_id": 1, "by_id": 1, "at": at}
            session.execute(tables.tables["reference"].insert(), approved)
    migrate(database)
    with database.read() as session:
        assert session.scalars(select(models.Reference.exercise)).all() == ["leg-curl"]
    database.close()
