"""Beside what a trainer says in their own words the tool neither praises nor says that all is well."""

from __future__ import annotations

import pytest
from markupsafe import escape

from app.rules import told
from app.rules.handed import handed
from app.rules.told import NOTE, Said
from app.views.desk import BEFORE
from app.views.results import FROM_CHECK
from shared.exercise import find_exercise
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from vision.common.notices import LOOKS_LIKE
from vision.telling.cues import praise
from vision.telling.handout import NOTHING

ONE_REP = "Your trainer looked at one rep"
OFFERED = "Approve it: compare Ilse's later sets with this one"
LEG = find_exercise("leg-extension")
WORDS = "Sit further back, and take less load."
CLEAR = report().model_copy(
    update={
        "findings": [f.model_copy(update={"verdict": "clear", "prompt": None}) for f in report().findings]
    }
)


def _handed_over(studio: Studio) -> int:
    """A set in which the tool flagged nothing."""
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, CLEAR)
    studio.trainer.release(set_id)
    return set_id


def test_a_set_of_which_nothing_was_said_is_praised_and_offered(studio: Studio, open_page: Open) -> None:
    set_id = _handed_over(studio)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert praise(CLEAR) in text and NOTHING in text
    assert OFFERED in labels(open_page(studio.trainer, "review", set=str(set_id)))


@pytest.mark.parametrize("kind", ["note", "added", "reword"])
def test_the_trainers_words_stand_alone(studio: Studio, open_page: Open, kind: str) -> None:
    set_id = _handed_over(studio)
    if kind == "added":
        studio.trainer.add_moment(set_id, 5.0, WORDS)
    else:
        studio.trainer.decide(set_id, [NOTE if kind == "note" else "knee-lockout:4"], kind, WORDS)
    studio.trainer.release(set_id)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert WORDS in text and "<p></p>" not in text
    assert praise(CLEAR) not in text and NOTHING not in text
    review = open_page(studio.trainer, "review", set=str(set_id))
    assert OFFERED not in labels(review) and "with words from a trainer is not offered" in read(review)


def test_one_rep_each_asks_for_pain_first_and_says_what_was_looked_at(
    studio: Studio, open_page: Open
) -> None:
    for clip in (b"1", b"2"):
        set_id = new_set(studio.ilse, clip=clip)
        check(studio.database, studio.files, CLEAR)
    page = click(open_page(studio.trainer, "waiting"), "Nothing flagged in 2: look at one repetition each")
    for _ in range(2):
        assert str(escape(BEFORE)) in read(page)
        page = click(page, "Looks right")
    assert str(escape(BEFORE)) in read(page)
    click(page, "Hand over 2 sets")
    assert ONE_REP in read(open_page(studio.ilse, "results", set=str(set_id)))
    studio.trainer.release(set_id)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert ONE_REP not in text and "Looked at by your trainer" in text


@pytest.mark.parametrize(("kind", "whose"), [("", FROM_CHECK), ("agree", "Runa has looked at this")])
def test_a_prompt_that_nobody_decided_is_said_to_be_looked_at_by_nobody(
    studio: Studio, open_page: Open, kind: str, whose: str
) -> None:
    set_id = new_set(studio.ilse)
    knees = report().model_copy(
        update={"findings": [f for f in report().flags() if f.check == "knee-lockout"]}
    )
    check(studio.database, studio.files, knees)
    if kind:
        studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], kind)
    studio.trainer.release(set_id)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert whose in text and (FROM_CHECK in text) is not bool(kind)
    assert ("Runa has looked at this" in text) is bool(kind)


def test_a_note_that_says_nothing_any_more_takes_nothing_away(studio: Studio, open_page: Open) -> None:
    set_id = _handed_over(studio)
    for words in (WORDS, ""):
        studio.trainer.decide(set_id, [NOTE], "note", words)
    studio.trainer.release(set_id)
    assert NOTHING in read(open_page(studio.ilse, "results", set=str(set_id)))


@pytest.mark.parametrize(
    "said",
    [
        {NOTE: Said("note", WORDS)},
        {"added:1": Said("added", WORDS, time_s=5.0)},
        {"knee-lockout:4": Said("reword", WORDS)},
    ],
    ids=["note", "added", "reword"],
)
def test_the_hand_out_says_theirs_alone(said: dict[str, Said]) -> None:
    page = handed(CLEAR, LEG, told.released(CLEAR, said, False, "Runa"), said, [])
    assert page.praise == "" and page.seen != NOTHING and "nothing flagged" not in page.which
    assert page.which and WORDS in (*page.own, f"{page.cue[:-1]}.")


def test_the_review_of_a_machine_that_was_confirmed_doubts_it_no_more(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    notices = [f"{LOOKS_LIKE} chest press, not like leg extension."]
    check(studio.database, studio.files, report().model_copy(update={"notices": notices}))
    assert "Make sure of the machine first" in read(open_page(studio.trainer, "review", set=str(set_id)))
    studio.trainer.keep_machine(set_id)
    text = read(open_page(studio.trainer, "review", set=str(set_id)))
    assert "Make sure of the machine first" not in text and LOOKS_LIKE not in text


def test_page_and_hand_out_praise_the_same_once_all_was_called_no_fault() -> None:
    """With the flags a repetition among those without one is the best, and without them any may be."""
    flagged = report()
    said = {key: Said("no-fault") for key in map(told.key_of, flagged.findings)}
    content = told.released(flagged, said, False, "Runa")
    assert content.praise == praise(CLEAR) != praise(flagged)
    assert content.praise == handed(flagged, LEG, content, said, []).praise
