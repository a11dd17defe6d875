"""A set's day and load are put right by a trainer, on both databases."""

from __future__ import annotations

import io
from contextlib import nullcontext
from datetime import UTC, datetime, timedelta

import pytest

from app.store.access import NewSet
from shared.errors import UsageError
from tests.store.conftest import JOINED, Studio
from tests.store.made import DAY, check, new_set


def test_a_mended_day_and_load_are_what_the_question_about_the_load_goes_by(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.mend_set(set_id, DAY - timedelta(days=2), 32.5, "kg")
    (record,) = studio.trainer.history(studio.ilse.actor.id)
    assert (record.day, record.load, record.unit) == (DAY - timedelta(days=2), 32.5, "kg")
    studio.trainer.mend_set(set_id, DAY, None, "lb")
    row = studio.trainer.set(set_id)
    assert (row.load, row.unit, row.done_on) == (None, "lb", DAY)


def test_a_set_moves_to_no_day_to_come_and_none_before_the_member_joined(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    for day in (datetime.now(UTC).date() + timedelta(days=1), JOINED.date() - timedelta(days=1)):
        with pytest.raises(UsageError):
            studio.trainer.mend_set(set_id, day, 30.0, "kg")
    for load, unit in ((-1.0, "kg"), (30.0, "stone")):
        with pytest.raises(UsageError):
            studio.trainer.mend_set(set_id, DAY, load, unit)
    assert (studio.trainer.set(set_id).done_on, studio.trainer.set(set_id).load) == (DAY, 30.0)


@pytest.mark.parametrize(
    ("load", "unit", "why"),
    [(61.0, "pin", "in pins must be from 0 to 60"), (1001.0, "kg", "in kg must be from 0 to 1000"),
     (2201.0, "lb", "2200"), (45.0, "stone", "The unit"), (1100.0, "lb", ""), (60.0, "plates", "")],
)  # fmt: skip
def test_a_load_is_held_against_the_most_of_its_unit_wherever_it_is_told(
    studio: Studio, load: float, unit: str, why: str
) -> None:
    ilse, set_id = studio.ilse.actor.id, new_set(studio.ilse)
    told = NewSet(ilse, "leg-curl", DAY, load, unit)
    ways = [
        lambda: studio.ilse.may_send(told),
        lambda: studio.ilse.add_set(told, io.BytesIO(b"other"), "a.mov"),
        lambda: studio.trainer.mend_set(set_id, DAY, load, unit),
        lambda: studio.trainer.save_card(ilse, "leg-curl", usual_load=load, unit=unit),
    ]
    for way in ways:
        with pytest.raises(UsageError, match=why) if why else nullcontext():
            way()
    card = studio.trainer.card(ilse, "leg-curl")
    assert (card.usual_load, card.unit) == ((None, "kg") if why else (load, unit))
