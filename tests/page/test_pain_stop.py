"""Where pain was told, every screen says so before anything else, and none of them coaches."""

from __future__ import annotations

import pytest

from app.jobs import queue
from app.jobs.early import EarlyReader
from app.page.sheet import sheet_content
from app.rules import told
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set


@pytest.mark.parametrize(
    ("who", "screen", "said"),
    [
        ("ilse", "today", told.STOP),
        ("ilse", "results", told.STOP),
        ("ilse", "film", told.STOP),
        ("ilse", "tempo", told.STOP),
        ("trainer", "members", "Pain reported, not cleared"),
        ("trainer", "tempo", "Pain reported, not cleared"),
        ("trainer", "film", "Pain reported, not cleared"),
        ("trainer", "review", "Pain reported with the set: left hip"),
        ("trainer", "waiting", "Pain reported: left hip"),
    ],
    ids=["today", "results", "film", "tempo", "members", "tempo of one", "film for one", "review", "waiting"],
)
def test_every_screen_tells_of_the_pain_first(
    studio: Studio, open_page: Open, who: str, screen: str, said: str
) -> None:
    set_id = new_set(studio.ilse, pain=True, pain_where="left hip")
    check(studio.database, studio.files)
    query = {"set": str(set_id), "person": str(studio.ilse.actor.id)}
    text = read(open_page(studio.all[who], screen, **query))
    assert said in text
    if who == "ilse":
        assert 'role="alert"' in text and "emergency help" in text
        assert screen != "results" or "No cues until your trainer clears this" in text
        assert "Knees locked out" not in text
        assert screen != "film" or "Sharp or joint pain today?" not in text
    assert " due" not in text.replace("nothing is due", "")


def test_no_after_yes_leaves_its_trace_and_opens_nothing(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("Yes").run()
    assert not page.button_group, "the question is not there to be answered anew"
    page.text_input[0].set_value("knee").run()
    assert told.STOP in read(page) and "Add this" in labels(page)
    again = open_page(studio.ilse, "film")
    assert told.STOP in read(again) and not again.button_group and "Send the clip" not in labels(again)
    assert studio.trainer.waiting()[0].reason == "Pain reported"


def test_nobody_is_said_to_know_of_a_pain_that_was_told_this_moment(studio: Studio, open_page: Open) -> None:
    studio.ilse.tell_pain(studio.ilse.actor.id, "left knee")
    text = read(open_page(studio.ilse, "today"))
    assert "may not have seen this yet: go and tell them" in text and "Your trainer knows" not in text


def test_where_it_hurts_can_be_said_right_after_yes(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    page = open_page(studio.ilse, "results", set=str(set_id))
    page.button_group[0].set_value("hard").run()
    page.button_group[1].set_value("Yes").run()
    (felt,) = [box for box in page.expander if box.label == "How it felt"]
    assert felt.proto.expanded, "the box closes over the question where it hurts"
    page.text_input[0].set_value("knee").run()
    page.button[0].click().run()
    assert "Pain reported after the set: knee" in read(open_page(studio.trainer, "review", set=str(set_id)))


def test_no_after_yes_on_a_result_takes_nothing_back(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    page = open_page(studio.ilse, "results", set=str(set_id))
    page.button_group[1].set_value("Yes").run()
    assert told.STOP in read(page), "told before any button is pressed"
    page.button_group[0].set_value("easy").run()
    page.button_group[1].set_value("No").run()
    assert "stays until your trainer clears it" in read(page)
    text = read(click(page, "Tell my trainer"))
    assert told.STOP in text and "Stop just short" not in text
    assert studio.trainer.pain(studio.ilse.actor.id).stops


@pytest.mark.parametrize("screen", ["members", "review", "film", "tempo"])
def test_a_trainer_clears_it_wherever_they_read_of_it_and_the_member_goes_on(
    studio: Studio, open_page: Open, screen: str
) -> None:
    set_id = new_set(studio.ilse, pain=True, pain_where="left hip")
    check(studio.database, studio.files)
    page = open_page(studio.trainer, screen, set=str(set_id), person=str(studio.ilse.actor.id))
    (clear,) = [b for b in page.button if b.label == "Clear it: Ilse may go on"]
    assert clear.disabled, "one touch lets nobody go on who was not spoken to"
    next(c for c in page.checkbox if c.label.startswith("I have talked to Ilse")).check().run()
    text = read(click(page, "Clear it: Ilse may go on"))
    assert "Pain reported, not cleared" not in text
    member = open_page(studio.ilse, "today")
    assert "Runa cleared your pain today" in read(member) and " due" in read(member)
    film = open_page(studio.ilse, "film")
    assert told.STOP not in read(film) and film.button_group
    results = open_page(studio.ilse, "results", set=str(set_id))
    assert told.PAIN_FIRST in read(results) and results.button_group[1].value is None


@pytest.mark.parametrize("shown_anew", [False, True], ids=["before it was shown", "once it is shown"])
def test_pain_that_was_reported_since_is_not_cleared_by_what_was_said_of_other_pain(
    studio: Studio, open_page: Open, shown_anew: bool
) -> None:
    person = studio.ilse.actor.id
    studio.ilse.tell_pain(person, "left hip")
    page = open_page(studio.trainer, "members", person=str(person))
    next(c for c in page.checkbox if c.label.startswith("I have talked to Ilse")).check().run()
    studio.ilse.tell_pain(person, "chest")
    page = page.run() if shown_anew else click(page, "Clear it: Ilse may go on")
    assert studio.trainer.pain(person).places == "left hip; chest" and "<li>chest" in read(page)
    (spoken,) = [c for c in page.checkbox if c.label.startswith("I have talked to Ilse")]
    (clear,) = [b for b in page.button if b.label == "Clear it: Ilse may go on"]
    assert not spoken.value and clear.disabled


def test_the_waiting_list_names_who_stops_until_it_is_cleared(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse, pain=True, pain_where="left hip")
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert "<b>Ilse</b> has pain: left hip. Reported today" in read(open_page(studio.trainer, "waiting"))
    studio.trainer.clear_pain(studio.ilse.actor.id, studio.trainer.pain(studio.ilse.actor.id).last)
    assert "has pain" not in read(open_page(studio.trainer, "waiting"))


def test_one_pain_is_one_report_and_red_only_until_it_is_cleared(studio: Studio, open_page: Open) -> None:
    person = studio.ilse.actor.id
    set_id = studio.ilse.tell_pain(person)
    assert "No place given" in read(open_page(studio.trainer, "review", set=str(set_id)))
    studio.ilse.tell_pain(person, "left knee")
    text = read(open_page(studio.trainer, "review", set=str(set_id)))
    assert "No place given" not in text and text.count("pl-stop") == 1
    studio.trainer.clear_pain(person, studio.trainer.pain(person).last)
    text = read(open_page(studio.trainer, "review", set=str(set_id)))
    assert "pl-stop" not in text and text.count(", cleared by Runa, today") == 2


def test_the_review_tells_all_that_was_told_in_its_order(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.ilse.after_set(set_id, "hard", True, "<i>knee</i>")
    studio.ilse.after_set(set_id, "easy", False)
    text = read(open_page(studio.trainer, "review", set=str(set_id)))
    assert "Pain reported after the set: &lt;i&gt;knee" in text and "<i>knee" not in text
    assert text.index("pain, &lt;i&gt;knee&lt;/i&gt;, felt: hard") < text.index(
        "no pain, felt: easy (told by"
    )


def test_the_first_words_of_a_set_are_told_while_it_is_checked_but_to_nobody_whom_pain_stops(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_id = new_set(studio.ilse)
    monkeypatch.setattr(EarlyReader, "first_words", lambda _, of: {set_id: "First look: 9 reps."}[of])
    (bar,) = open_page(studio.ilse, "results", set=str(set_id)).get("progress")
    assert bar.proto.text == "First look: 9 reps."
    studio.ilse.tell_pain(studio.ilse.actor.id, "knee")
    page = open_page(studio.ilse, "results", set=str(set_id))
    assert told.STOP in read(page) and not page.get("progress")


def test_the_checks_own_first_words_go_before_those_of_a_clip_on_its_way(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_id = new_set(studio.ilse)
    monkeypatch.setattr(EarlyReader, "first_words", lambda *_: "First look: 9 reps.")
    job = queue.claim(studio.database)
    assert job is not None
    queue.beat(studio.database, job, "First look: 10 reps.", 0.2)
    (bar,) = open_page(studio.ilse, "results", set=str(set_id)).get("progress")
    assert bar.proto.text == "First look: 10 reps."


def test_pain_that_was_told_alone_is_no_set(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    told_id = studio.ilse.tell_pain(studio.ilse.actor.id, "left hip", "chest-press")
    (line, _) = studio.trainer.members()
    assert line.sets == 1
    person = str(studio.ilse.actor.id)
    seen = [
        open_page(studio.trainer, "members", person=person, tab="Sets"),
        open_page(studio.trainer, "waiting"),
        open_page(studio.trainer, "review", set=str(told_id)),
        open_page(studio.ilse, "results"),
        open_page(studio.ilse, "results", set=str(told_id)),
    ]
    texts = [read(page) for page in seen]
    assert "· 1 set" in texts[0]
    assert "Pain reported: left hip" in texts[2] and "before the set" not in texts[2]
    for text in texts:
        assert "Pain told, chest press" in text and "load not told" not in text.partition("Pain told")[2][:80]
    (printed,) = sheet_content(studio.trainer, studio.ilse.me())["sets"]
    assert printed["title"] == "Leg extension"


def test_where_it_hurts_is_filed_once_and_an_empty_field_files_nothing(
    studio: Studio, open_page: Open
) -> None:
    person = studio.ilse.actor.id
    studio.ilse.tell_pain(person)
    page = open_page(studio.ilse, "film")
    assert "Say where it hurts" in read(click(page, "Add this"))
    assert len(studio.trainer.pain(person).open) == 1
    before = page.text_input[0].key
    page.text_input[0].set_value("knee").run()
    page = click(page, "Add this")
    assert page.text_input[0].key != before, "the words would stay in the field, to be filed once more"
    assert "Say where it hurts" in read(click(page, "Add this"))
    assert [one.place for one in studio.trainer.pain(person).open] == ["", "knee"]


def test_pain_that_was_cleared_still_waits_and_says_who_cleared_it(studio: Studio, open_page: Open) -> None:
    person, set_id = studio.ilse.actor.id, new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    studio.ilse.after_set(set_id, "hard", True, "left knee")
    for screen in ("waiting", "week"):
        assert "cleared by" not in read(open_page(studio.trainer, screen))
    studio.trainer.clear_pain(person, studio.trainer.pain(person).last)
    waiting, week = (read(open_page(studio.trainer, screen)) for screen in ("waiting", "week"))
    assert "Pain reported: left knee; cleared by Runa. " in waiting and "pl-row flag" in waiting
    assert "Pain reported, cleared by Runa. 1 set waits" in week
    studio.ilse.after_set(set_id, None, True, "hip")
    assert studio.trainer.waiting()[0].reason == "Pain reported: left knee; hip"


def test_what_was_looked_at_before_the_pain_is_not_said_to_be_looked_at_by_nobody(
    studio: Studio, open_page: Open
) -> None:
    person, set_id = studio.ilse.actor.id, new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "agree")
    studio.trainer.release(set_id)
    studio.ilse.after_set(set_id, "hard", True, "left knee")
    studio.trainer.clear_pain(person, studio.trainer.pain(person).last)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert "Runa has looked at this" in text and told.NOT_LOOKED_AT not in text
    assert "Looked at before; your trainer will look again" in text
    assert "Looked at before" in read(open_page(studio.ilse, "results"))
