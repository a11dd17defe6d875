"""A settings card's number in degrees is what every check goes by, on both databases; and who is new."""

from __future__ import annotations

from typing import Any

import pytest

from app.jobs import queue
from app.jobs.worker import own_limits
from app.store.cards import ON_CARD, limit_of
from shared.errors import UsageError
from shared.member import Own
from shared.own_range import Range
from tests.store.conftest import Studio
from tests.store.made import new_set

HUNDRED_AND_FIFTY: dict[str, Any] = {"left_at_most_deg": 150.0}


def _claimed(studio: Studio, **more: Any) -> queue.Claimed:
    new_set(studio.ilse, **more)
    job = queue.claim(studio.database)
    assert job is not None
    return job


def test_the_parts_of_a_machine_are_kept(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    parts = {"lever_pin": "3", "thigh_pad": "snug", "foot_support": "block"}
    studio.trainer.save_card(ilse, "leg-curl", **parts)
    card = studio.ilse.card(ilse, "leg-curl")
    assert {name: getattr(card, name) for name in parts} == parts


@pytest.mark.parametrize(
    ("working", "expected"),
    [(None, "left"), ("left", "range"), ("right", None)],
    ids=["both", "left", "right"],
)
def test_a_number_on_the_card_reaches_the_check_of_the_side_it_holds_for(
    studio: Studio, working: str | None, expected: str | None
) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.save_card(ilse, "leg-extension", **HUNDRED_AND_FIFTY)
    member = own_limits(_claimed(studio, side=working))
    own = member.own("leg-extension") if member else Own()
    kept = {name: getattr(own, name) for name in ("range", "left", "right") if getattr(own, name)}
    assert kept == ({expected: Range(at_most=150.0)} if expected else {})


def test_a_number_stays_where_another_field_is_kept_and_goes_where_it_is_taken_out(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.save_card(ilse, "leg-extension", **HUNDRED_AND_FIFTY)
    studio.trainer.save_card(ilse, "leg-extension", back_pad="3")
    kept = limit_of(studio.ilse.card(ilse, "leg-extension"))
    assert (kept.left, kept.right) == (Range(at_most=150.0), None)
    studio.trainer.save_card(ilse, "leg-extension", left_at_most_deg=None)
    assert _claimed(studio).bounds == {}


def test_no_limit_of_a_check_stands_beside_the_cards_number_on_the_same_end(studio: Studio) -> None:
    ilse, trainer = studio.ilse.actor.id, studio.trainer
    trainer.use_limit(ilse, "leg-extension", "knee-lockout", {"at_most": 178.0})
    trainer.use_limit(ilse, "leg-extension", "short-load-down-end", {"at_most": 115.0})
    trainer.save_card(ilse, "leg-extension", **HUNDRED_AND_FIFTY)
    assert trainer.own_limits(ilse) == {"leg-extension": {"short-load-down-end": {"at_most": 115.0}}}
    for check in ("knee-lockout", "own-range-max"):
        with pytest.raises(UsageError, match=ON_CARD):
            trainer.use_limit(ilse, "leg-extension", check, {"at_most": 178.0})


@pytest.mark.parametrize(
    ("exercise", "settings", "said"),
    [
        ("leg-extension", {"right_at_most_deg": 250.0}, "from 0 to 200"),
        (
            "leg-extension",
            {"left_at_least_deg": 150.0, "left_at_most_deg": 150.0},
            "leave no room: 150 degrees",
        ),
        ("leg-extension", {"lift_s": 2.0}, "two numbers, seconds up and seconds down: give both"),
        ("chest-fly", {"lower_s": 2.0}, "seconds in and seconds back"),
        ("leg-extension", {"lift_s": 0.2, "lower_s": 2.0}, "The seconds must be from 0.5"),
        ("chest-fly", {"left_at_least_deg": 20.0}, "Chest fly takes no such limit in degrees"),
    ],
)
def test_a_number_that_makes_no_sense_is_refused_and_nothing_is_kept(
    studio: Studio, exercise: str, settings: dict[str, Any], said: str
) -> None:
    ilse = studio.ilse.actor.id
    with pytest.raises(UsageError, match=said):
        studio.trainer.save_card(ilse, exercise, seat="4", **settings)
    assert studio.ilse.card(ilse, exercise).seat == ""


def test_a_trainer_is_asked_whether_a_member_is_new_after_so_many_sets_and_again_after_as_many(
    studio: Studio,
) -> None:
    ilse, trainer = studio.ilse.actor.id, studio.trainer
    trainer.save_member(ilse, "Ilse", beginner=True)
    sent = iter(range(99))

    def send(count: int) -> None:
        for _ in range(count):
            new_set(studio.ilse, clip=bytes([next(sent)]))

    send(2)
    assert trainer.newcomer_due(ilse, 3) == 0
    send(1)
    assert trainer.newcomer_due(ilse, 3) == 3 and trainer.person(ilse).beginner
    trainer.answer_newcomer(ilse, still=True)
    assert trainer.newcomer_due(ilse, 3) == 0 and trainer.person(ilse).beginner
    send(3)
    assert trainer.newcomer_due(ilse, 3) == 6
    trainer.answer_newcomer(ilse, still=False)
    assert not trainer.person(ilse).beginner and trainer.newcomer_due(ilse, 3) == 0
    trainer.save_member(ilse, "Ilse", beginner=True)
    assert trainer.newcomer_due(ilse, 3) == 0, "who is new again is asked about later, not at once"


def test_the_stricter_limits_stay_until_the_trainer_answers(studio: Studio) -> None:
    ilse, trainer = studio.ilse.actor.id, studio.trainer
    trainer.save_member(ilse, "Ilse", beginner=True)
    first = _claimed(studio)
    assert first.beginner and trainer.newcomer_due(ilse, 1) == 1
    assert _claimed(studio, clip=b"second").beginner
    trainer.answer_newcomer(ilse, still=False)
    assert not _claimed(studio, clip=b"third").beginner
