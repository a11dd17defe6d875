"""Two members of one name: refused anew, and told apart where they were added before that."""

from __future__ import annotations

import pytest

from app.page.namesakes import told_apart
from app.store.models import Person
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, new_set


@pytest.mark.parametrize("name", ["Ilse", " ilse ", "ILSE"])
def test_a_name_that_a_member_has_is_not_given_again(studio: Studio, name: str) -> None:
    before = len(studio.trainer.members())
    with pytest.raises(UsageError, match="called Ilse already"):
        studio.trainer.save_member(None, name)
    with pytest.raises(UsageError, match="called Ilse already"):
        studio.trainer.save_member(studio.odo.actor.id, name)
    assert len(studio.trainer.members()) == before
    studio.trainer.save_member(None, f"{name} B")


def test_whoever_keeps_their_name_is_saved(studio: Studio) -> None:
    """Namesakes of before too."""
    with studio.database.write() as session:
        session.get_one(Person, studio.odo.actor.id).name = "Ilse"
    for one in (studio.ilse, studio.odo):
        studio.trainer.save_member(one.actor.id, "Ilse", 171.0)
        assert studio.trainer.person(one.actor.id).height_cm == 171.0


def test_namesakes_of_before_are_told_apart_where_a_set_is_sent(studio: Studio) -> None:
    ilse, odo = studio.ilse.actor.id, studio.odo.actor.id
    assert told_apart(studio.trainer.members(), DAY)[ilse] == "Ilse"
    with studio.database.write() as session:
        session.get_one(Person, odo).name = "Ilse"
    new_set(studio.odo)
    names = told_apart(studio.trainer.members(), DAY)
    assert {names[ilse], names[odo]} == {"Ilse (1 of 2, no set yet)", "Ilse (2 of 2, last set today)"}
