"""A set's day and load are put right by a trainer, on both databases."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

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
