"""The question about the load on the page: answered in one tap, read by the member, taken back."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from app.page.load_words import BEFORE_MORE
from app.views import parts
from tests.page.screens import Open, click, labels, read, sound
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

MACHINE = "leg-extension"
TODAY = datetime(DAY.year, DAY.month, DAY.day, 12, tzinfo=UTC)
ANSWERS = ["Up to 32.5 kg", "Stay at 30 kg", "Down to 27.5 kg"]


@pytest.fixture(autouse=True)
def _due(studio: Studio) -> None:
    """Two sets that speak for more load."""
    for n in range(2):
        new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files, report().model_copy(update={"count": 15, "findings": []}))


def _load(studio: Studio, open_page: Open) -> Any:
    return open_page(studio.trainer, "members", tab="Load", person=str(studio.ilse.actor.id))


def _film(studio: Studio, open_page: Open) -> Any:
    page = open_page(studio.ilse, "film", machine=MACHINE)
    return page.button_group[0].set_value("No").run()


def test_a_trainer_answers_in_one_tap_and_can_take_it_back(studio: Studio, open_page: Open) -> None:
    page = _load(studio, open_page)
    assert [b for b in labels(page) if b in ANSWERS] == ANSWERS
    page = click(page, "Up to 32.5 kg")
    text = read(page)
    assert "Go up to 32.5 kg next time. Runa said so today." in text and "Go up to 32.5 kg?" not in text
    assert not [b for b in labels(page) if b in ANSWERS]
    page = click(page, "Take it back")
    assert "Go up to 32.5 kg?" in read(page) and studio.ilse.load_answers(studio.ilse.actor.id) == {}


def test_the_answer_that_the_question_speaks_for_stands_out(studio: Studio, open_page: Open) -> None:
    kinds = {b.label: b.proto.type for b in _load(studio, open_page).button if b.label in ANSWERS}
    assert kinds == dict(zip(ANSWERS, ("primary", "secondary", "secondary"), strict=True))


def test_the_member_reads_the_load_to_set_where_they_film_and_where_they_look_back(
    studio: Studio, open_page: Open
) -> None:
    assert "Runa said so" not in read(_film(studio, open_page))
    click(_load(studio, open_page), "Up to 32.5 kg")
    page = _film(studio, open_page)
    said = "Load to set next: 32.5 kg, last time 30 kg. Runa said so today. With sharp or joint pain, do not"
    assert said in read(page)
    assert [one.value for one in page.number_input] == [32.5]
    assert "Usual load: <b>32.5 kg</b>" in read(page)
    text = read(open_page(studio.ilse, "tempo"))
    assert "Go up to 32.5 kg next time. Runa said so today." in text and "Ask your trainer" not in text


def test_a_touch_on_an_answer_to_an_older_question_answers_nothing(studio: Studio, open_page: Open) -> None:
    page = _load(studio, open_page)
    new_set(studio.ilse, clip=b"newer")
    check(studio.database, studio.files, report().model_copy(update={"count": 16, "findings": []}))
    text = read(click(page, "Up to 32.5 kg"))
    assert "Two steady sets of 15 and 16." in text and "Runa said so" not in text
    assert studio.ilse.load_answers(studio.ilse.actor.id) == {}


def test_cautions_stand_wherever_a_load_is_decided_and_sources_are_folded_away(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parts, "today_utc", lambda: TODAY)
    said = BEFORE_MORE.replace("'", "&#39;")
    page = _load(studio, open_page)
    assert said in read(page) and said in read(open_page(studio.trainer, "week"))
    assert said in read(open_page(studio.trainer, "tempo", person=str(studio.ilse.actor.id)))
    (folded,) = [e for e in page.expander if e.label == "Where this comes from"]
    assert not folded.proto.expanded and "2 to 10 %" in read(folded) and read(page).count("2 to 10 %") == 1


def test_a_week_without_a_question_needs_no_caution_and_one_leads_to_the_members_load(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parts, "today_utc", lambda: TODAY)
    ilse = studio.ilse.actor.id
    page = open_page(studio.trainer, "week")
    assert f"person={ilse}&tab=Load" in [link.proto.query_string for link in page.get("page_link")]
    page = open_page(studio.trainer, "members", person=str(ilse))
    assert "Go up to 32.5 kg?" not in read(page)
    page.query_params["tab"] = "Load"
    page = sound(page.run())
    assert "Go up to 32.5 kg?" in read(page) and "tab" not in page.query_params
    click(page, "Stay at 30 kg")
    assert "Never go up with pain" not in read(open_page(studio.trainer, "week"))
