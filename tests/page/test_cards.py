"""What a settings card says is on every screen that needs it, and no screen of ours goes beyond it."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.rules import told
from app.views import asking
from app.views.card import NOT_CHECKED, NOT_KEPT
from app.views.day import NOTE
from shared.exercise import find_exercise
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set
from vision.common.cautions import CAUTIONS, HANDLING, NO_ADVICE, STOP_ON, three_cautions

MACHINE = find_exercise("leg-extension")
ROOT = Path(__file__).parents[2]
TEXT = (".py", ".toml", ".html")
WORDS = "Left knee no straighter than 150 degrees"


def _limited(studio: Studio) -> None:
    studio.trainer.save_card(studio.ilse.actor.id, MACHINE.name, left_at_most_deg=150.0)


def _film(studio: Studio, open_page: Open) -> object:
    page = open_page(studio.ilse, "film", machine=MACHINE.name)
    return page.button_group[0].set_value("No").run()


def test_a_card_asks_for_the_parts_of_its_machine_and_for_a_number(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    page = open_page(studio.trainer, "members", tab="Settings card", person=str(ilse))
    page.selectbox[0].set_value(MACHINE.name).run()
    assert [t.label for t in page.text_input] == ["Back pad", "Lever pin"]
    knee = next(n for n in page.number_input if n.label == "Left knee no straighter than")
    knee.set_value(150.0)
    click(page, "Save the card")
    card = studio.ilse.card(ilse, MACHINE.name)
    assert (card.left_at_most_deg, card.right_at_most_deg) == (150.0, None)


def test_a_number_that_is_saved_ends_the_question_for_it(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.save_card(ilse, MACHINE.name, limits=WORDS)
    page = open_page(studio.trainer, "members", tab="Settings card", person=str(ilse))
    page = page.selectbox[0].set_value(MACHINE.name).run()
    assert [w.value for w in page.warning] == [NOT_CHECKED]
    next(n for n in page.number_input if n.label == "Left knee no straighter than").set_value(150.0)
    assert not click(page, "Save the card").warning


def test_limits_and_tempo_are_folded_until_something_is_kept_there(studio: Studio, open_page: Open) -> None:
    def folded() -> tuple[bool, int]:
        page = open_page(studio.trainer, "members", tab="Settings card", person=str(studio.ilse.actor.id))
        page = page.selectbox[0].set_value(MACHINE.name).run()
        (found,) = [e for e in page.expander if e.label == "Limits and tempo"]
        assert NOT_KEPT in read(page)
        return not found.proto.expanded, len(found.number_input) + len(found.text_area)

    assert folded() == (True, 7)
    for kept in ({"left_at_most_deg": 150.0}, {"limits": "No load until Friday"}):
        studio.trainer.save_card(studio.ilse.actor.id, MACHINE.name, **kept)  # type: ignore[arg-type]
        assert folded() == (False, 7)
        studio.trainer.save_card(studio.ilse.actor.id, MACHINE.name, **dict.fromkeys(kept))


def test_the_limit_is_read_where_it_is_filmed_and_where_it_is_reviewed(
    studio: Studio, open_page: Open
) -> None:
    _limited(studio)
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    assert WORDS in read(_film(studio, open_page))
    assert WORDS in read(open_page(studio.trainer, "review", set=str(set_id)))


@pytest.mark.parametrize("number", [None, 150.0])
def test_degrees_in_words_alone_are_said_to_be_checked_by_nothing(
    studio: Studio, open_page: Open, number: float | None
) -> None:
    ilse = studio.ilse.actor.id
    words = "left knee no further than 150 degrees"
    studio.trainer.save_card(ilse, MACHINE.name, limits=words, left_at_most_deg=number)
    text = read(open_page(studio.trainer, "review", set=str(new_set(studio.ilse))))
    assert words in text and (NOT_CHECKED in text) is (number is None)


def test_do_you_agree_never_suggests_beyond_the_card(studio: Studio, open_page: Open) -> None:
    ilse = str(studio.ilse.actor.id)
    for n in range(3):
        set_id = new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files)
        studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "no-fault")
    offered = "Use at most 180 degrees for Ilse"
    assert offered in labels(open_page(studio.trainer, "members", tab="Do you agree?", person=ilse))
    _limited(studio)
    page = open_page(studio.trainer, "members", tab="Do you agree?", person=ilse)
    assert offered not in labels(page) and "180 degrees" not in read(page)


def test_getting_in_and_out_is_folded_where_a_set_is_filmed(studio: Studio, open_page: Open) -> None:
    page = _film(studio, open_page)
    (folded,) = [e for e in page.expander if e.label == "Getting in and out"]
    assert not folded.proto.expanded
    text = "".join(e.proto.body for e in folded.get("html")).replace("&#39;", "'")
    assert all(step in text for step in (*MACHINE.setup[1:], *MACHINE.getting_out))


def test_getting_in_names_the_card_only_for_what_it_holds(studio: Studio, open_page: Open) -> None:
    text = read(_film(studio, open_page))
    assert "<li>Back pad: knees in line with the machine" in text and "as on your card" not in text
    studio.trainer.save_card(studio.ilse.actor.id, MACHINE.name, back_pad="3")
    assert "Back pad as on your card: knees" in read(_film(studio, open_page))


def test_three_cautions_stand_where_a_person_acts_and_all_a_touch_away(
    studio: Studio, open_page: Open
) -> None:
    shown, _, folded = read(_film(studio, open_page)).partition("<details>")
    box = shown[shown.index("Before the next set") :].replace("&#39;", "'")
    assert box.count("<li>") == 3 and box.index(MACHINE.cautions[0]) < box.index(STOP_ON)
    assert NO_ADVICE in folded.partition("</summary>")[0]
    assert all(line.replace("'", "&#39;") in folded for line in (*MACHINE.cautions, *CAUTIONS))


@pytest.mark.parametrize("exercise", [None, MACHINE], ids=["no machine", "a machine"])
def test_when_to_stop_is_always_among_the_three(exercise: object) -> None:
    three = three_cautions(exercise)  # type: ignore[arg-type]
    assert three[1:] == (HANDLING, STOP_ON) and "sharp or joint pain" in STOP_ON


def test_burning_muscles_are_no_pain_that_is_asked_for(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.ilse, "film")
    assert page.button_group[0].label == "Sharp or joint pain today?"
    assert "Muscles that burn or are tired are expected" in read(page)


@pytest.mark.parametrize("words", ["any pain", "what hurts"])
def test_no_screen_asks_for_any_pain_or_leaves_the_choice_to_who_has_it(words: str) -> None:
    files = [
        p for folder in ("app", "shared", "vision") for p in (ROOT / folder).rglob("*") if p.suffix in TEXT
    ]
    found = [p.name for p in files if words in p.read_text(encoding="utf-8").lower()]
    assert len(files) > 100 and found == []


def test_who_is_told_to_stop_is_told_nothing_of_a_next_time(studio: Studio, open_page: Open) -> None:
    assert NOTE in read(open_page(studio.ilse, "today"))
    new_set(studio.ilse, pain=True)
    text = read(open_page(studio.ilse, "today"))
    assert told.STOP in text and NOTE not in text and "leave out" not in text.lower()


@pytest.mark.parametrize("screen", ["members", "review"])
@pytest.mark.parametrize(("answer", "new"), [("Still new", True), ("Not new any more", False)])
def test_a_trainer_answers_whether_a_member_is_still_new(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch, screen: str, answer: str, new: bool
) -> None:
    ilse = studio.ilse.actor.id
    monkeypatch.setattr(asking, "new_for_sets", lambda: 1)
    studio.trainer.save_member(ilse, "Ilse", beginner=True)
    query = {"person": str(ilse), "set": str(new_set(studio.ilse))}
    check(studio.database, studio.files)
    page = open_page(studio.trainer, screen, **query)
    assert "Is Ilse still new to the room?" in read(page)
    page = click(page, answer)
    assert "still new" not in read(page) and studio.trainer.person(ilse).beginner is new
