"""Answers to the question about the load, on both databases: kept by name and day, and taken back."""

from __future__ import annotations

import pytest

from app.rules.load_answer import LoadWord
from app.rules.load_settings import Settings
from app.rules.pain import STOPPED
from app.rules.week import WeekLine
from app.store.belongings import rows_of
from app.store.erasing import erase
from app.store.load_answers import LoadAnswer
from app.store.loads import OUTDATED, OVER
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

MACHINE = "leg-extension"


def _easy_set(studio: Studio, n: int, count: int = 15) -> int:
    set_id = new_set(studio.ilse, clip=bytes([n]))
    check(studio.database, studio.files, report().model_copy(update={"count": count, "findings": []}))
    return set_id


def _due(studio: Studio) -> int:
    """Two sets at the target's end; the number of the last one."""
    _easy_set(studio, 1)
    return _easy_set(studio, 2)


def _said(studio: Studio) -> LoadWord | None:
    return studio.ilse.said_load(studio.ilse.actor.id, MACHINE)


def _week(studio: Studio) -> list[str]:
    due: tuple[WeekLine, ...] = studio.trainer.week(DAY).due
    return [line.exercise for line in due]


def test_an_answer_is_kept_with_name_and_day_and_reaches_the_card_and_the_member(studio: Studio) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    assert _week(studio) == [MACHINE] and _said(studio) is None
    studio.trainer.answer_load(ilse, MACHINE, "up", last)
    said = _said(studio)
    assert said is not None and (said.choice, said.load, said.before, said.unit) == ("up", 32.5, 30.0, "kg")
    assert said.by == "Runa" and said.at.tzinfo is not None
    card = studio.ilse.card(ilse, MACHINE)
    assert (card.usual_load, card.unit, card.changed_by) == (32.5, "kg", studio.trainer.actor.id)
    assert _week(studio) == [] and studio.odo.load_answers(studio.odo.actor.id) == {}


def test_an_answer_that_was_taken_back_leaves_the_card_as_it_was_and_the_question_open(
    studio: Studio,
) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    studio.trainer.save_card(ilse, MACHINE, usual_load=28.0, seat="4")
    studio.trainer.answer_load(ilse, MACHINE, "lower", last)
    assert studio.ilse.card(ilse, MACHINE).usual_load == 27.5
    studio.trainer.take_back_load(ilse, MACHINE, last)
    card = studio.ilse.card(ilse, MACHINE)
    assert (card.usual_load, card.seat) == (28.0, "4") and _said(studio) is None
    assert _week(studio) == [MACHINE]
    with pytest.raises(UsageError, match=OVER):
        studio.trainer.take_back_load(ilse, MACHINE, last)
    with studio.database.read() as session:
        assert [row.choice for row in session.query(LoadAnswer).order_by(LoadAnswer.id)] == [
            "lower",
            "withdrawn",
        ]


def test_a_load_that_was_written_on_the_card_since_then_counts(studio: Studio) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    studio.trainer.answer_load(ilse, MACHINE, "up", last)
    studio.trainer.save_card(ilse, MACHINE, usual_load=25.0)
    assert _said(studio) is None
    studio.trainer.take_back_load(ilse, MACHINE, last)
    assert studio.ilse.card(ilse, MACHINE).usual_load == 25.0


def test_a_newer_set_or_pain_makes_it_a_question_again(studio: Studio) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    studio.trainer.answer_load(ilse, MACHINE, "up", last)
    studio.ilse.tell_pain(ilse, "knee")
    assert _said(studio) is None, "nobody is sent up to a load after pain"
    with pytest.raises(UsageError, match=STOPPED):
        studio.trainer.answer_load(ilse, MACHINE, "stay", last)
    studio.trainer.clear_pain(ilse, studio.trainer.pain(ilse).open[-1].id)
    assert _said(studio) is None
    with pytest.raises(UsageError, match=OUTDATED):
        studio.trainer.answer_load(ilse, MACHINE, "up", last)
    studio.trainer.answer_load(ilse, MACHINE, "stay", last)
    assert studio.ilse.card(ilse, MACHINE).usual_load == 30.0
    newest = _easy_set(studio, 3)
    assert _said(studio) is None
    with pytest.raises(UsageError, match=OUTDATED):
        studio.trainer.answer_load(ilse, MACHINE, "stay", last)
    studio.trainer.answer_load(ilse, MACHINE, "stay", newest)


def test_a_second_answer_to_the_same_question_is_refused(studio: Studio) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    studio.trainer.answer_load(ilse, MACHINE, "up", last)
    with pytest.raises(UsageError, match=OUTDATED):
        studio.trainer.answer_load(ilse, MACHINE, "lower", last)
    assert studio.ilse.card(ilse, MACHINE).usual_load == 32.5


def test_pain_that_is_told_while_an_answer_is_on_its_way_stops_it(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    settings = studio.trainer.load_settings

    def told_meanwhile() -> Settings:
        studio.ilse.tell_pain(ilse, "knee")
        return settings()

    monkeypatch.setattr(studio.trainer, "load_settings", told_meanwhile)
    with pytest.raises(UsageError, match=STOPPED):
        studio.trainer.answer_load(ilse, MACHINE, "up", last)
    assert studio.ilse.load_answers(ilse) == {} and studio.ilse.card(ilse, MACHINE).usual_load is None


def test_answers_go_with_the_member(studio: Studio) -> None:
    last, ilse = _due(studio), studio.ilse.actor.id
    studio.trainer.answer_load(ilse, MACHINE, "up", last)
    with studio.database.read() as session:
        assert [row["load"] for row in rows_of(session, ilse)["load_answer"]] == [32.5]
    erase(studio.database, studio.files, ilse)
    with studio.database.read() as session:
        assert session.query(LoadAnswer).count() == 0
