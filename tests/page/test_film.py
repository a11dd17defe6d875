"""The film page without a browser: what it already knows, and what it leaves to the clip."""

from __future__ import annotations

import pytest

from app.rules.words import side_words
from app.store.models import Person
from tests.page.screens import Open, click, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set


def _loads(studio: Studio, open_page: Open) -> list[float | None]:
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("No").run()
    return [one.value for one in click(page, "Leg extension").number_input]


def test_the_load_of_the_last_set_is_there_again_before_that_of_the_card(
    studio: Studio, open_page: Open
) -> None:
    assert _loads(studio, open_page) == [None]
    studio.trainer.save_card(studio.ilse.actor.id, "leg-extension", usual_load=25.0)
    assert _loads(studio, open_page) == [25.0]
    new_set(studio.ilse)
    assert _loads(studio, open_page) == [30.0]


def test_which_side_was_filmed_is_told_and_not_asked(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("No").run()
    assert "side" not in " ".join(box.label for box in click(page, "Leg extension").button_group)
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert "The clip shows the left side." in read(open_page(studio.ilse, "results", set=str(set_id)))
    assert "The clip shows the left side." in read(open_page(studio.trainer, "review", set=str(set_id)))


@pytest.mark.parametrize(
    ("view", "said"),
    [
        ("side-right", "The clip shows the right side."),
        ("front", ""),
        ("rear", ""),
        ("oblique", ""),
        (None, ""),
    ],
)
def test_no_side_is_told_where_none_was_filmed(view: str | None, said: str) -> None:
    assert side_words(view) == said


def test_an_answer_about_pain_is_never_taken_for_that_of_the_member_chosen_next(
    studio: Studio, open_page: Open
) -> None:
    ilse, odo = studio.ilse.actor.id, studio.odo.actor.id
    page = open_page(studio.trainer, "film", person=str(ilse))
    page.button_group[0].set_value("No").run()
    page.selectbox[0].set_value(odo).run()
    assert page.button_group[0].value is None, "Odo was never asked"
    assert studio.trainer.denies_pain(ilse) and not studio.trainer.denies_pain(odo)


def test_where_it_hurts_is_never_taken_for_that_of_the_member_chosen_next(
    studio: Studio, open_page: Open
) -> None:
    ilse, odo = studio.ilse.actor.id, studio.odo.actor.id
    for person in (ilse, odo):
        studio.trainer.tell_pain(person)
    page = open_page(studio.trainer, "film", person=str(ilse))
    page.text_input[0].set_value("left knee").run()
    page.toggle[0].set_value(True).run()
    page.selectbox[0].set_value(odo).run()
    assert page.text_input[0].value == "" and not page.toggle[0].value


def test_who_sends_a_clip_again_reads_which_load_is_kept(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    page = open_page(studio.ilse, "results", set=str(set_id))
    page.session_state["known"] = set_id
    text = read(page.run())
    assert "You sent this video before" in text and "Its load is saved as 30 kg." in text


def test_the_list_of_whose_set_it_is_tells_namesakes_apart(studio: Studio, open_page: Open) -> None:
    with studio.database.write() as session:
        session.get_one(Person, studio.odo.actor.id).name = "Ilse"
    shown = open_page(studio.trainer, "film").selectbox(key="whose").options
    assert len(shown) == len(set(shown)) and "Ilse (2 of 2, no set yet)" in shown


def test_beside_another_usual_load_stands_where_the_field_begins(studio: Studio, open_page: Open) -> None:
    def film() -> str:
        page = open_page(studio.ilse, "film")
        page.button_group[0].set_value("No").run()
        return read(click(page, "Leg extension"))

    studio.trainer.save_card(studio.ilse.actor.id, "leg-extension", usual_load=20.0)
    assert "Last time" not in film()
    new_set(studio.ilse)
    said = film()
    assert "Usual load" in said and "Last time 30 kg." in said


def test_a_load_that_no_machine_holds_is_told_before_anything_is_filmed(
    studio: Studio, open_page: Open
) -> None:
    studio.trainer.save_card(studio.ilse.actor.id, "leg-extension", unit="pin")
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("No").run()
    page = click(page, "Leg extension")
    assert "from 0 to 60" not in read(page)
    assert "The load in pins must be from 0 to 60." in read(page.number_input[0].set_value(450.0).run())
