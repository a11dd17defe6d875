"""Members' cards on the page: printed, ended, what was only counted, and the question of the day."""

from __future__ import annotations

import io

from app.rules.words import title_of
from app.store.found_sets import Found, keep_found, key_of
from app.store.models import now
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio

QUESTION = "keeps your sets only on a day on which you answer No"


def test_the_studio_reads_how_many_sets_were_only_counted_and_why(studio: Studio, open_page: Open) -> None:
    for start_s in (10.0, 90.0):
        one = Found(key_of("a" * 64, start_s), None, "leg-curl", now())
        keep_found(studio.database, studio.files, one, io.BytesIO(b"cut"))
    page = open_page(studio.trainer, "account", tab="Cards")
    assert f"{title_of('leg-curl')}, today: 2 sets. No card was shown." in read(page)
    assert [e.proto.label for e in page.get("download_button")] == ["Cards of 2 members as PDF"]


def test_a_lost_card_is_ended_on_the_member_s_page(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    page = open_page(studio.trainer, "members", tab="Person and link", person=str(ilse))
    assert "No card yet" in read(page) and "Card lost: end it" not in labels(page)
    studio.trainer.give_cards([ilse])
    page = open_page(studio.trainer, "members", tab="Person and link", person=str(ilse))
    assert "Card 1." in read(page)
    click(page, "Card lost: end it")
    assert studio.trainer.card_number(ilse) is None


def test_today_asks_about_pain_only_whose_card_a_phone_may_see(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    assert QUESTION not in read(open_page(studio.ilse, "today"))
    studio.trainer.give_cards([ilse])
    page = open_page(studio.ilse, "today")
    assert QUESTION in read(page)
    page.button_group[0].set_value("No").run()
    assert studio.ilse.denies_pain(ilse) and QUESTION not in read(open_page(studio.ilse, "today"))


def test_yes_on_today_stops_the_member_at_once(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.give_cards([ilse])
    page = open_page(studio.ilse, "today")
    page.button_group[0].set_value("Yes").run()
    assert studio.trainer.pain(ilse).stops and not studio.ilse.denies_pain(ilse)
    assert 'role="alert"' in read(page) and QUESTION not in read(page)


def test_no_under_film_is_the_answer_of_the_day(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("No").run()
    assert studio.ilse.denies_pain(studio.ilse.actor.id)
