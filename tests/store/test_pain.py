"""Pain is never untold: it is only added to, stops everything, and a trainer alone clears it."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from sqlalchemy import text

from app.rules import told
from app.store.access import NewSet
from app.store.database import migrate, open_database
from app.store.models import TrainingSet
from app.store.rules import Refused
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set


def _clear(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.clear_pain(ilse, studio.trainer.pain(ilse).last)


def test_no_after_yes_leaves_the_pain_where_it_was_and_both_are_kept(studio: Studio) -> None:
    set_id, ilse = new_set(studio.ilse), studio.ilse.actor.id
    studio.ilse.after_set(set_id, "hard", True, "left knee")
    studio.ilse.after_set(set_id, "easy", False, "")
    row = studio.trainer.set(set_id)
    assert (row.pain, row.pain_where) == (True, "left knee")
    said = studio.trainer.tellings(set_id)
    assert [(s.pain, s.place, s.feeling, s.by) for s in said] == [
        (True, "left knee", "hard", "Ilse"), (False, "", "easy", "Ilse"),
    ]  # fmt: skip
    assert studio.ilse.pain(ilse).stops and studio.ilse.circuit(ilse, DAY).stop


def test_pain_stops_every_day_until_a_trainer_clears_it_with_name_and_time(studio: Studio) -> None:
    set_id, ilse = new_set(studio.ilse, pain=True, pain_where="hip"), studio.ilse.actor.id
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    for day in (DAY, DAY + timedelta(days=3)):
        circuit = studio.ilse.circuit(ilse, day)
        assert circuit.stop and not circuit.count("due"), "handing over is not clearing"
    assert studio.ilse.load_questions(ilse) == [] and studio.ilse.next_work(ilse, DAY) == []
    assert [(s.name, s.stop.places) for s in studio.trainer.stopped()] == [("Ilse", "hip")]
    _clear(studio)
    stop = studio.ilse.pain(ilse)
    assert not stop.stops and stop.cleared is not None and stop.cleared[0] == "Runa"
    assert studio.trainer.stopped() == []
    assert studio.ilse.circuit(ilse, DAY + timedelta(days=3)).count("due")
    studio.ilse.mark_done(ilse, "leg-curl", DAY, True)


def test_only_a_trainer_clears_and_only_what_they_have_read(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.ilse.tell_pain(ilse, "hip")
    read = studio.trainer.pain(ilse).last
    for access in (studio.ilse, studio.odo):
        with pytest.raises(Refused):
            access.clear_pain(ilse, read)
    studio.ilse.tell_pain(ilse, "and the knee")
    studio.trainer.clear_pain(ilse, read)
    assert [t.place for t in studio.trainer.pain(ilse).open] == ["and the knee"]


def test_more_words_of_open_pain_go_to_the_same_set(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    first = studio.ilse.tell_pain(ilse)
    assert studio.ilse.tell_pain(ilse, "hip", "leg-curl") == first
    row = studio.trainer.set(first)
    assert (row.exercise, row.pain_where) == ("leg-curl", "hip")
    assert studio.trainer.waiting()[0].reason == "Pain reported: hip"
    _clear(studio)
    assert studio.ilse.tell_pain(ilse, "again") != first


def test_nothing_is_sent_while_pain_stops_but_a_set_with_its_pain(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.ilse.tell_pain(ilse, "hip")
    for access in (studio.ilse, studio.trainer):
        with pytest.raises(UsageError, match="Pain was reported"):
            access.add_set(NewSet(ilse, "leg-curl", DAY), io.BytesIO(b"a clip"))
    studio.ilse.add_set(NewSet(ilse, "leg-curl", DAY, pain_before=True), io.BytesIO(b"a clip"))
    _clear(studio)
    studio.ilse.add_set(NewSet(ilse, "leg-curl", DAY), io.BytesIO(b"another clip"))


def test_pain_told_with_a_clip_that_is_there_already_is_not_lost(studio: Studio) -> None:
    set_id, ilse = new_set(studio.ilse), studio.ilse.actor.id
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    again = NewSet(ilse, "leg-extension", DAY, pain_before=True, pain_where="hip")
    assert studio.ilse.add_set(again, io.BytesIO(b"clip")) == (set_id, True)
    assert studio.ilse.pain(ilse).places == "hip"
    assert [w.set_id for w in studio.trainer.waiting()] == [set_id]


def test_while_pain_stops_no_result_coaches_and_earlier_ones_come_back(studio: Studio) -> None:
    earlier, ilse = new_set(studio.ilse), studio.ilse.actor.id
    check(studio.database, studio.files)
    studio.trainer.decide(earlier, [told.NOTE], "note", "Go on like this.")
    studio.trainer.release(earlier)
    studio.ilse.tell_pain(ilse, "hip")
    seen = studio.ilse.told(earlier)
    assert (seen.stop, seen.prompts, seen.note, seen.tempo) == (True, [], "", "")
    with pytest.raises(Refused):
        studio.ilse.picture(earlier, "knee-lockout:4")
    _clear(studio)
    assert studio.ilse.told(earlier).prompts and studio.ilse.told(earlier).note == "Go on like this."


def test_the_set_of_the_pain_itself_is_coached_by_the_trainer_alone(studio: Studio) -> None:
    set_id = new_set(studio.ilse, pain=True)
    check(studio.database, studio.files)
    _clear(studio)
    seen = studio.ilse.told(set_id)
    assert (seen.stop, seen.headline, seen.prompts) == (False, told.PAIN_FIRST, [])


def test_what_was_told_before_this_version_stays_told_and_looked_at(empty_url: str) -> None:
    database = open_database(empty_url)
    migrate(database, "0006")
    with database.write() as session:
        for role in ("trainer", "member"):
            session.execute(text(
                "INSERT INTO person (name, role, beginner, active, asked_at_sets, created_at) "
                f"VALUES ('{role}', '{role}', false, true, 0, '2026-03-01 10:00:00')"
            ))  # fmt: skip
        for number, seen in ((1, "NULL"), (2, "'2026-03-03 10:00:00'")):
            session.execute(text(
                "INSERT INTO training_set (id, person_id, exercise, clip_name, unit, done_on, uploaded_at, "
                "pain_before, pain_after, pain_where, status, message, worry, worry_words, reviewed_at) "
                f"VALUES ({number}, 2, 'leg-curl', '', 'kg', '2026-03-02', '2026-03-02 10:00:00', false, "
                f"true, 'hip {number}', 'no-clip', '', 10, '', {seen})"
            ))  # fmt: skip
        session.execute(text(
            "INSERT INTO \"release\" (set_id, body, by_id, at) VALUES (2, '{}', 1, '2026-03-03 10:00:00')"
        ))  # fmt: skip
    migrate(database)
    with database.read() as session:
        from app.store import tellings

        stop = tellings.stop_of(session, 2)
        assert session.get_one(TrainingSet, 1).pain
    assert stop.places == "hip 1" and stop.cleared is not None and stop.cleared[0] == "trainer"
    database.close()
