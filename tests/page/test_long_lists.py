"""A member with many sets, and a long list that waits: nothing is cut off without a word."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.page.sheet import LAST_PROMPTS, LAST_SETS, sheet_content
from app.rules import told
from app.rules.words import title_of
from app.store.models import TrainingSet, now
from app.views import waiting
from app.views.older import STEP
from shared.exercise import exercise_names
from tests.page.screens import Open, click, labels, read, sound
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

PAUSED, OFTEN = "leg-curl", "leg-extension"
PAUSED_ROW = f"{title_of(PAUSED)}</span>"
CLEAN = report().model_copy(update={"findings": []})


def _many(studio: Studio, how_many: int) -> None:
    """So many sets of one machine, and before all of them one of another that was paused since."""
    ilse = studio.ilse.actor.id
    days = [(OFTEN, DAY - timedelta(days=n)) for n in range(how_many)]
    with studio.database.write() as session:
        session.add_all(
            TrainingSet(
                person_id=ilse, exercise=exercise, done_on=day, clip=f"clip-{day}", status="checked",
                worry_words="Nothing flagged", reviewed_at=now(),
            )
            for exercise, day in [*days, (PAUSED, DAY - timedelta(days=how_many))]
        )  # fmt: skip


@pytest.mark.parametrize("who", ["trainer", "ilse"])
def test_older_sets_are_shown_with_a_tap_and_the_heading_says_how_many_there_are(
    studio: Studio, open_page: Open, who: str
) -> None:
    _many(studio, 2 * STEP)
    if who == "ilse":
        page = open_page(studio.ilse, "results")
    else:
        page = open_page(studio.trainer, "members", tab="Sets", person=str(studio.ilse.actor.id))
        assert f"{2 * STEP + 1} sets" in read(page)
    for shown in (STEP, 2 * STEP):
        assert read(page).count("Leg extension</span>") == shown and PAUSED_ROW not in read(page)
        page = click(page, "Show older")
    assert PAUSED_ROW in read(page) and "Show older" not in labels(page)


def test_a_machine_paused_for_many_sets_keeps_its_place_on_the_sheet_and_in_the_day(studio: Studio) -> None:
    _many(studio, 2 * STEP)
    ilse = studio.ilse.actor.id
    paused = studio.trainer.sets(ilse, PAUSED)[0]
    studio.trainer.decide(paused.id, [told.NOTE], "note", "Seat one hole up.")
    studio.trainer.release(paused.id)
    content = sheet_content(studio.trainer, studio.ilse.me())
    assert (title_of(PAUSED), "Seat one hole up.") in content["prompts"]
    assert len(content["sets"]) == LAST_SETS
    assert [row.exercise for row in studio.ilse.last_sets(ilse)] == [OFTEN, PAUSED]


def test_the_sheet_has_the_last_word_on_each_machine_and_more_cues_of_one_while_they_fit(
    studio: Studio,
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert len(sheet_content(studio.trainer, studio.ilse.me())["prompts"]) == 2
    for name in exercise_names():
        other = set_id
        if name != OFTEN:
            other = new_set(studio.ilse, clip=name.encode(), exercise=name)
            check(studio.database, studio.files, CLEAN.model_copy(update={"exercise": name}))
        studio.trainer.decide(other, [told.NOTE], "note", f"Well done on the {name}.")
        studio.trainer.release(other)
    prompts = sheet_content(studio.trainer, studio.ilse.me())["prompts"]
    assert {words for _, words in prompts} >= {f"Well done on the {name}." for name in exercise_names()}
    assert len(prompts) == len(exercise_names()) + 1 > LAST_PROMPTS


def test_the_waiting_list_is_searched_whole_and_says_how_many_wait(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(waiting, "MOST", 2)
    for number in range(3):
        new_set(studio.ilse, clip=b"%d" % number)
        check(studio.database, studio.files)
    for clip in (b"odo", b"odo's second"):
        new_set(studio.odo, clip=clip)
        check(studio.database, studio.files, CLEAN)
    new_set(studio.odo, clip=b"on its way")
    page = open_page(studio.trainer, "waiting")
    text = read(page)
    assert "5 sets to review" in text and "3 more follow" in text and "Being checked" in text
    assert "Odo</span>" not in text
    page = sound(page.text_input(key="search-words").set_value("odo").run())
    assert read(page).count("Odo</span>") == 2 and "follow" not in read(page)
    page = sound(page.text_input(key="search-words").set_value("").run())
    page.session_state["search-kind"] = "Nothing flagged"
    assert "Nothing flagged in 2: look at one repetition each" in labels(sound(page.run()))
