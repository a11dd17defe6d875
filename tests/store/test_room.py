"""What the owner says of the room: checked, kept, and before what file and environment say."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlalchemy import select

from app.jobs.runner import Runner
from app.rules.load_settings import RULES, Settings
from app.rules.room import Room, in_cm, in_feet, usual_machines
from app.rules.stack import Stack
from app.rules.told import key_of
from app.store.access import Access
from app.store.models import Person, TrainingSet, now
from app.store.room import NewStack, days_kept, load_of
from app.store.rules import Actor, Refused
from app.store.settings import StoreSettings
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

FILE = Settings(target_reps=(8, 10), stack=Stack(unit="kg", start=10, step=10, add_on=2))


def test_the_file_says_until_the_page_does_and_the_page_comes_first(studio: Studio) -> None:
    assert load_of(studio.database, FILE) == FILE
    studio.trainer.save_stack("leg-curl", NewStack("lb", 20.0, 15.0, None))
    studio.trainer.save_load_rule("two-for-two", 12, 15)
    said = load_of(studio.database, FILE)
    assert said.rule == RULES["two-for-two"] and said.target_reps == (12, 15)
    curl, other = said.told_stack("leg-curl"), said.told_stack("chest-press")
    assert curl is not None and (curl.unit, curl.start, curl.step, curl.add_ons) == ("lb", 20, 15, 0)
    assert other == FILE.stack, "what the page says nothing of stays the file's"
    studio.trainer.save_stack("leg-curl", None)
    assert load_of(studio.database, FILE).told_stack("leg-curl") == FILE.stack


def test_the_rule_of_the_file_stays_where_none_is_chosen(studio: Studio) -> None:
    own = FILE.model_copy(update={"rule": RULES["upper-end"].model_copy(update={"times": 3})})
    studio.trainer.save_load_rule(None, 8, 10)
    assert load_of(studio.database, own).rule.times == 3


def test_machines_stand_in_the_rooms_order_in_every_circuit(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    assert studio.ilse.room().machines == usual_machines()
    studio.trainer.save_circuit(studio.odo.actor.id, ["leg-extension", "leg-curl"])
    studio.trainer.save_room(["chest-fly", "leg-curl"], "kg", "cm")
    names = [s.exercise for s in studio.trainer.circuit(ilse, DAY).stations]
    assert names == ["chest-fly", "leg-curl"]
    assert [s.exercise for s in studio.odo.circuit(studio.odo.actor.id, DAY).stations] == ["leg-curl"]


def test_loads_are_read_in_the_rooms_unit_and_kept_as_told(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    studio.trainer.save_room(list(usual_machines()), "lb", "ft")
    room = studio.ilse.room()
    assert room.load_words(30.0, "kg") == "66.1 lb" and room.load_words(3.5, "pin").startswith("pin 3 with")
    assert studio.trainer.waiting()[0].unit == "lb"
    assert (studio.ilse.set(set_id).load, studio.ilse.set(set_id).unit) == (30.0, "kg")
    assert studio.trainer.card(studio.ilse.actor.id, "leg-curl").unit == "lb", "what a new card begins with"
    check(studio.database, studio.files)
    assert [(r.load, r.unit) for r in studio.trainer.history(studio.ilse.actor.id)] == [(66.1, "lb")]
    assert Room(usual_machines()).load(66.1, "lb") == (30.0, "kg")


def test_heights_in_feet_come_back_as_they_were() -> None:
    assert in_feet(168.0) == (5, 6.0) and in_feet(183.0) == (6, 0.0)
    assert in_cm(5, 6.0) == 167.6


@pytest.mark.parametrize(
    ("said", "read"),
    [
        ("Your hips slid 6 cm forward.", "Your hips slid 2.5 in forward."),
        ("3.1 cm, give or take 0.8", "1.2 in, give or take 0.3"),
        ("2 to 5 cm now, 7 degrees", "1 to 2 in now, 7 degrees"),
        ("6.0 cm now and 3.0 then (give or take 1.0).", "2.4 in now and 1.2 then (give or take 0.4)."),
        ("(give or take 1.0): 3.1 cm beyond the knee", "(give or take 0.4): 1.2 in beyond the knee"),
        ('"unit":"cm","measured":6.0', '"unit":"cm","measured":6.0'),
    ],
)
def test_what_the_tool_says_of_a_length_is_read_in_inches_where_heights_are(said: str, read: str) -> None:
    assert Room((), length="ft").lengths(said) == read
    assert Room(()).lengths(said) == said


def test_names_of_files_stay_as_people_wrote_them_where_lengths_are_read_in_inches(studio: Studio) -> None:
    said, name = report(), "bench 120 cm tripod.mov"
    worded = said.findings[0].model_copy(update={"reason": "The hips slid 3 cm.", "clip": name})
    clip = said.clip.model_copy(update={"file": name})
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, said.model_copy(update={"clip": clip, "findings": [worded]}))
    studio.trainer.save_room([*usual_machines()], "kg", "ft")
    read = studio.trainer.report(set_id)
    assert read is not None and (read.clip.file, read.findings[0].clip) == (name, name)
    assert read.findings[0].reason == "The hips slid 1 in."


def test_trainer_and_member_read_inches_and_the_trainers_own_words_stay(studio: Studio) -> None:
    made = report()
    flag = made.flags()[0].model_copy(
        update={"prompt": "You slid 6 cm forward.", "unit": "cm", "measured": 6.0}
    )
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, made.model_copy(update={"findings": [flag]}))
    studio.trainer.save_room([*usual_machines()], "kg", "ft")
    studio.trainer.add_moment(set_id, 12.5, "Seat 6 cm higher.")
    read = studio.trainer.report(set_id)
    assert read is not None and read.flags()[0].prompt == "You slid 2.5 in forward."
    assert read.flags()[0].measured == 6.0, "numbers stay as they were measured"
    studio.trainer.decide(set_id, [key_of(flag)], "agree")
    studio.trainer.release(set_id)
    words = [prompt.words for prompt in studio.ilse.told(set_id).prompts]
    assert "Seat 6 cm higher." in words and any("2.5 in forward" in one for one in words)


WRONG: list[Callable[[Access], None]] = [
    lambda a: a.save_room([], "kg", "cm"),
    lambda a: a.save_room(["gone"], "kg", "cm"),
    lambda a: a.save_room(["leg-curl"], "stone", "cm"),
    lambda a: a.save_room(["leg-curl"], "kg", "m"),
    lambda a: a.save_load_rule("own", 8, 12),
    lambda a: a.save_load_rule("upper-end", 12, 8),
    lambda a: a.save_load_rule("upper-end", 0, 8),
    lambda a: a.save_stack("gone", NewStack("kg", 5.0, 5.0)),
    lambda a: a.save_stack("leg-curl", NewStack("pin", 5.0, 5.0)),
    lambda a: a.save_stack("leg-curl", NewStack("kg", None, 5.0)),
    lambda a: a.save_stack("leg-curl", NewStack("kg", 5.0, 0.0)),
    lambda a: a.save_stack("leg-curl", NewStack("kg", 5.0, 5.0, 2.0, add_ons=11)),
    lambda a: a.keep_clips(0),
    lambda a: a.keep_clips(100_000),
]


@pytest.mark.parametrize("call", WRONG)
def test_what_makes_no_sense_is_refused(studio: Studio, call: Callable[[Access], None]) -> None:
    with pytest.raises(UsageError):
        call(studio.trainer)
    assert load_of(studio.database, FILE) == FILE and studio.trainer.room().machines == usual_machines()


def test_another_trainer_reads_the_settings_and_changes_none(studio: Studio) -> None:
    with studio.database.write() as session:
        bero = Person(name="Bero", role="trainer")
        session.add(bero)
        session.flush()
        other = Access(studio.database, studio.files, Actor(bero.id, bero.name, bero.role))
    assert other.room().machines and other.own_stacks() == set()
    for call in (WRONG[0], WRONG[4], WRONG[7], lambda a: a.keep_clips(1)):
        with pytest.raises(Refused):
            call(other)


def test_the_runner_drops_clips_by_the_days_that_the_owner_keeps(studio: Studio) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    with studio.database.write() as session:
        session.scalars(select(TrainingSet)).one().uploaded_at = now() - timedelta(days=40)
    assert days_kept(studio.database, 90) == 90 and studio.trainer.clips_older(30) == 1
    url = studio.database.engine.url.render_as_string(hide_password=False)
    settings = StoreSettings(url, studio.files.folder.parent, keep_clips_days=90)
    _once(settings)
    assert studio.trainer.clips_older(30) == 1, "90 days are not over"
    studio.trainer.keep_clips(30)
    _once(settings)
    assert studio.trainer.clips_older(30) == 0 and studio.trainer.has_clip(1) is not None


def _once(settings: StoreSettings) -> None:
    runner = Runner(settings, check=lambda *_: pytest.fail("nothing waits"))
    try:
        runner.step()
    finally:
        runner.close()
