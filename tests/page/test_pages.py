"""What the screens show and ask, without a browser: each as trainer and as member."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.exc import OperationalError
from streamlit.testing import v1 as testing

from app.jobs import queue
from app.page.studio import Studio as Store
from app.rules import told
from app.rules.unread import ASKED, SEND_AGAIN
from app.rules.words import title_of
from app.store import handing, signin
from app.store.access import Access
from app.store.database import AWAY
from app.store.settings import StoreSettings
from app.views import account, asking
from app.views.desk import BEFORE, NOT_SENT
from tests.page.conftest import on_both
from tests.page.screens import MAIN, Open, click, labels, read, sound
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from tests.unit.handmade import analysis
from vision.common.cautions import LAST_WORD
from vision.seeing.container import _NOT_VIDEO


@pytest.mark.parametrize("who", ["trainer", "ilse"])
def test_the_page_opens_on_what_each_role_needs_first(studio: Studio, monkeypatch: Any, who: str) -> None:
    store = Store(StoreSettings("", studio.files.folder), studio.database, studio.files)
    monkeypatch.setattr(asking, "this_studio", lambda: store)
    monkeypatch.setattr(asking, "acting", lambda *_: studio.all[who].actor)
    page = sound(testing.AppTest.from_file(str(MAIN), default_timeout=30).run())
    assert ("Nothing to review" if who == "trainer" else "Hello Ilse") in read(page)


def test_nobody_sees_anything(studio: Studio, open_page: Open, monkeypatch: Any) -> None:
    new_set(studio.ilse)
    open_page(studio.trainer, "waiting")
    monkeypatch.setattr(asking, "acting", lambda *_: None)
    page = testing.AppTest.from_file(str(MAIN), default_timeout=30).run()
    assert "You are signed out" in read(page) and "Ilse" not in read(page)


def test_an_open_page_shows_nothing_more_after_a_new_password(studio: Studio, monkeypatch: Any) -> None:
    password, actor = "a long enough sentence", studio.trainer.actor
    signin.set_account(studio.database, actor, "runa", password)
    secret = signin.sign_in(studio.database, "runa", password)
    store = Store(StoreSettings("", studio.files.folder), studio.database, studio.files)
    monkeypatch.setattr(asking, "this_studio", lambda: store)
    monkeypatch.setattr(asking, "acting", lambda *_: signin.who(studio.database, secret))
    page = sound(testing.AppTest.from_file(str(MAIN), default_timeout=30).run())
    assert "Nothing to review" in read(page)
    signin.set_account(studio.database, actor, "runa", password + "!")
    new_set(studio.ilse, pain=True)
    page = page.run()
    assert "You are signed out" in read(page) and "Ilse" not in read(page)


def test_a_trainer_without_a_login_reads_what_that_means(
    studio: Studio, open_page: Open, monkeypatch: Any
) -> None:
    monkeypatch.setattr(account, "no_way_back", lambda access: f"{access.me().name} has no way back.")
    monkeypatch.setattr(account, "COOKIE", "seen")
    monkeypatch.setattr(type(account.st.context), "cookies", {"seen": "secret"})
    text = read(open_page(studio.trainer, "account", tab="Sign-in"))
    assert "Runa has no way back. To open it from other devices, choose a login" in text


def test_a_database_that_is_away_is_told_on_the_page(
    studio: Studio, open_page: Open, monkeypatch: Any
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)

    def away(*_: Any) -> None:
        raise OperationalError("UPDATE", {"name": "Ilse"}, OSError("gone"))

    monkeypatch.setattr(handing, "now", away)
    page = open_page(studio.trainer, "review", did=[{"do": "hand-over"}], set=str(set_id))
    assert AWAY in read(page) and studio.trainer.set(set_id).reviewed_at is None


def test_names_and_notes_are_shown_as_text(studio: Studio, open_page: Open) -> None:
    bad = "<img src=x onerror=alert(1)>"
    studio.trainer.save_member(studio.ilse.actor.id, bad)
    set_id = new_set(studio.ilse, pain=True, pain_where=bad)
    check(studio.database, studio.files)
    studio.trainer.add_moment(set_id, 3.0, bad)
    studio.trainer.decide(set_id, [told.NOTE], "note", bad)
    pages = [open_page(studio.trainer, "waiting"), open_page(studio.trainer, "members")]
    pages.append(open_page(studio.trainer, "review", set=str(set_id)))
    studio.trainer.release(set_id)
    pages.append(open_page(studio.ilse, "results", set=str(set_id)))
    for page in pages:
        markup = "\n".join(e.proto.body for e in page.get("html"))
        assert "&lt;img src=x" in markup and bad not in markup


@on_both
def test_a_trainer_decides_and_hands_over(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    knees = ["knee-lockout:4", "knee-lockout:9"]
    did = [
        {"do": "agree", "keys": knees, "words": ""},
        {"do": "withdrawn", "keys": knees},
        {"do": "reword", "keys": knees, "words": "Stop earlier."},
        {"do": "no-fault", "keys": ["chest-drop:11"], "words": ""},
        {"do": "note", "words": "Well done."},
        {"do": "moment", "time": 12.5, "words": "Feet flat.", "place": [0.25, 0.5], "check": "hips-off-pad"},
        {"do": "hand-over"},
    ]
    open_page(studio.trainer, "review", did=did, set=str(set_id))
    said = studio.trainer.said(set_id)
    assert {key: one.kind for key, one in said.items() if key in knees} == dict.fromkeys(knees, "reword")
    assert (said["added:1"].place, said["added:1"].check) == ((0.25, 0.5), "hips-off-pad")
    told_ = studio.ilse.told(set_id)
    assert (told_.state, told_.note) == ("released", "Well done.")
    assert [p.words for p in told_.prompts][:1] == ["Stop earlier."] and "Feet flat." in read(
        open_page(studio.ilse, "results", set=str(set_id))
    )


def test_what_was_decided_after_the_handing_over_is_told_as_not_sent(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    page = open_page(studio.trainer, "review", set=str(set_id))
    assert open_page.shown[-1]["unsent"] == "" and "not sent" not in read(page)  # type: ignore[attr-defined]
    studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "no-fault")
    page = open_page(studio.trainer, "review", set=str(set_id))
    assert open_page.shown[-1]["unsent"] == NOT_SENT  # type: ignore[attr-defined]
    assert "handed over · changed since, not sent" in read(page)
    studio.trainer.release(set_id)
    open_page(studio.trainer, "review", set=str(set_id))
    assert open_page.shown[-1]["unsent"] == ""  # type: ignore[attr-defined]


def test_what_was_done_at_the_desk_is_kept_once(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    did = [{"do": "moment", "time": 12.5, "words": "Feet flat.", "place": None}]
    page = open_page(studio.trainer, "review", did=did, set=str(set_id))
    page.run()
    assert [(s.time_s, s.words) for s in studio.trainer.said(set_id).values()] == [(12.5, "Feet flat.")]


def test_words_that_cannot_be_kept_are_told_and_nothing_is_kept(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    did = [{"do": "moment", "time": 12.5, "words": " ", "place": None}]
    page = open_page(studio.trainer, "review", did=did, set=str(set_id))
    assert "is empty" in page.error[0].value and studio.trainer.said(set_id) == {}


def test_the_next_set_opens_and_the_one_before_can_be_taken_back(studio: Studio, open_page: Open) -> None:
    for n in (b"1", b"2"):
        new_set(studio.ilse, clip=n)
        check(studio.database, studio.files)
    page = open_page(studio.trainer, "review", did=[{"do": "hand-over"}], set="1")
    assert page.query_params["set"] in ("2", ["2"]) and studio.trainer.set(1).reviewed_at is not None
    click(page, "Take it back")
    assert studio.trainer.set(1).reviewed_at is None and studio.ilse.told(1).state == "preliminary"


def test_before_the_trainer_has_looked_every_prompt_says_so(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert text.count(told.NOT_LOOKED_AT) == 1 + len(studio.ilse.told(set_id).prompts)
    assert "Stop just short of locking your knees." in text


@pytest.mark.parametrize("screen", ["today", "film", "results"])
def test_who_has_the_last_word_stands_once_on_a_members_page(
    studio: Studio, open_page: Open, screen: str
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    for _ in ("before the trainer has looked", "after"):
        text = read(open_page(studio.ilse, screen, set=str(set_id)))
        assert text.count(LAST_WORD) == 1 and "give or take" not in text
        studio.trainer.release(set_id)


@on_both
def test_pain_after_the_set_stands_first_and_ends_coaching(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    page = open_page(studio.ilse, "results", set=str(set_id))
    page.button_group[0].set_value("hard").run()
    page.button_group[1].set_value("Yes").run()
    page.text_input[0].set_value("left knee").run()
    text = read(click(page, "Tell my trainer"))
    assert told.STOP in text and "left knee" in text and "Stop just short" not in text
    assert studio.trainer.waiting()[0].reason == "Pain reported: left knee"


def test_an_unfit_result_shows_how_to_film_again_and_asks_nothing_about_effort(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, analysis(usable=False).report)
    page = open_page(studio.ilse, "results", set=str(set_id))
    assert 'alt="Phone straight to the side' in read(page) and "From the side." in read(page)
    assert "Film again" in str([link.proto.label for link in page.get("page_link")])
    assert [asked.label for asked in page.button_group] == ["Sharp or joint pain?"]
    page.button_group[0].set_value("Yes").run()
    assert studio.ilse.pain(studio.ilse.actor.id).stops


def test_pain_before_the_set_is_told_without_a_clip(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.ilse, "film")
    assert "Add this" not in labels(page)
    page.button_group[0].set_value("Yes").run()
    assert told.STOP in read(page) and "Send the clip" not in labels(page)
    page.text_input[0].set_value("hip").run()
    next(b for b in page.button if b.label == "Add this").click().run()
    assert studio.trainer.waiting()[0].reason == "Pain reported: hip"


def test_a_machine_that_needs_clearance_says_so_until_it_is_given(studio: Studio, open_page: Open) -> None:
    for cleared in (False, True):
        studio.trainer.save_card(studio.ilse.actor.id, "reverse-fly", cleared=cleared)
        page = open_page(studio.ilse, "film")
        page.button_group[0].set_value("No").run()
        click(page, "Reverse fly")
        assert ("needs your trainer's word" in read(page)) is not cleared


@pytest.mark.parametrize("asked", ["", "4711", "0", "-1", "x", "9" * 30, "1 or 1=1"])
def test_an_address_that_leads_nowhere_is_one_sentence(studio: Studio, open_page: Open, asked: str) -> None:
    assert "nothing here for you" in read(open_page(studio.trainer, "review", set=asked))


def test_a_member_reaches_no_set_of_another(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    for screen in ("results", "review"):
        assert "nothing here for you" in read(open_page(studio.odo, screen, set=str(set_id)))


def test_only_the_open_tab_does_its_work(studio: Studio, open_page: Open, monkeypatch: Any) -> None:
    asked: list[int] = []
    monkeypatch.setattr(Access, "load_questions", lambda _, person_id: asked.append(person_id) or [])
    ilse = studio.ilse.actor.id
    open_page(studio.trainer, "members", person=str(ilse))
    assert asked == []
    open_page(studio.trainer, "members", tab="Load", person=str(ilse))
    assert asked == [ilse]


def test_a_set_without_a_clip_shows_its_numbers_and_leads_nowhere(
    studio: Studio, open_page: Open, monkeypatch: Any
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    shown: list[dict[str, Any]] = []
    for kept in (True, False):
        monkeypatch.setattr(Access, "has_clip", lambda *_, kept=kept: kept)
        open_page(studio.trainer, "review", set=str(set_id))
        shown += open_page.shown  # type: ignore[attr-defined]
    assert [bool(data["src"]) for data in shown] == [True, False]
    assert len(shown[1]["reps"]) == len(shown[0]["reps"]) > 0


@on_both
def test_the_settings_card_is_kept_and_shown_to_the_member(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    page = open_page(studio.trainer, "members", tab="Settings card", person=str(ilse))
    next(t for t in page.text_input if t.label == "Seat").set_value("4 <b>")
    click(page, "Save the card")
    machine = page.selectbox[0].value
    assert studio.ilse.card(ilse, machine).seat == "4 <b>"
    shown = open_page(studio.ilse, "film")
    shown.button_group[0].set_value("No").run()
    click(shown, title_of(machine))
    assert "Seat: <b>4 &lt;b&gt;</b>" in read(shown)


def test_a_clip_that_could_not_be_judged_says_how_to_film_again(studio: Studio, open_page: Open) -> None:
    from tests.unit.handmade import TOO_DARK, analysis

    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, analysis(usable=False).report)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert TOO_DARK in text and "Film it again like this" in text


def test_a_set_in_which_a_fault_stands_is_not_offered_as_the_approved_one(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    offered = "Approve it: compare Ilse's later sets with this one"
    assert offered not in labels(open_page(studio.trainer, "review", set=str(set_id)))
    flags = [told.key_of(f) for f in report().flags()]
    studio.trainer.decide(set_id, flags, "no-fault")
    assert offered in labels(open_page(studio.trainer, "review", set=str(set_id)))


def test_what_was_handed_over_is_named_above_the_next_set(studio: Studio, open_page: Open) -> None:
    for clip in (b"1", b"2"):
        new_set(studio.ilse, clip=clip)
        check(studio.database, studio.files)
    page = open_page(studio.trainer, "review", did=[{"do": "hand-over"}], set="1")
    assert "Handed over to Ilse: Leg extension, done Mon 2 March, sent today, " in read(page)


def test_the_first_screen_leads_to_the_first_member(studio: Studio, open_page: Open) -> None:
    links = [one.label for one in open_page(studio.trainer, "waiting").get("page_link")]
    assert "**Add a member**" not in links
    for person in (studio.ilse, studio.odo):
        studio.trainer.archive_member(person.actor.id)
    links = [one.label for one in open_page(studio.trainer, "waiting").get("page_link")]
    assert "**Add a member**" in links


def test_a_member_added_with_a_height_that_cannot_be_reads_of_that_and_loses_nothing(
    studio: Studio, open_page: Open
) -> None:
    page = open_page(studio.trainer, "members")
    assert "The name is empty" in read(click(page, "Add"))
    page.text_input[0].set_value("Bo")
    page.number_input[0].set_value(17)
    text = read(click(page, "Add"))
    assert "must be from 100 to 230" in text and "The name is empty" not in text
    assert page.text_input[0].value == "Bo"


def test_cautions_stand_where_somebody_acts(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    assert "Before the next set" in read(open_page(studio.ilse, "results", set=str(set_id)))
    check(studio.database, studio.files)
    open_page(studio.trainer, "review", set=str(set_id))
    assert open_page.shown[-1]["caution"] == BEFORE  # type: ignore[attr-defined]
    studio.ilse.tell_pain(studio.ilse.actor.id)
    for screen in ("today", "film", "results"):
        text = read(open_page(studio.ilse, screen, set=str(set_id)))
        assert "not medical advice" in text and "Before the next set" not in text


def test_a_file_that_is_no_video_is_never_looked_at_but_asked_for_again(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None
    queue.fail(studio.database, job, f"notes.mov {_NOT_VIDEO}")
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert text.count(SEND_AGAIN) == 1 and "hand over the clip" not in text and "Send it again" in text
    page = open_page(studio.trainer, "review", set=str(set_id))
    assert "Hand over to Ilse" not in labels(page) and "Delete it" in labels(page)
    click(page, "Ask Ilse for another video")
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert ASKED in text and SEND_AGAIN in text and "Looked at" not in text
    assert "asked for another video" in read(open_page(studio.trainer, "review", set=str(set_id)))
    assert not studio.trainer.waiting()
    studio.trainer.try_again(set_id)
    check(studio.database, studio.files)
    assert studio.ilse.told(set_id).state == "preliminary" and studio.trainer.waiting()


@pytest.mark.parametrize("pain", ["before the set", "after it was handed over"])
def test_a_set_with_pain_is_never_said_to_need_no_change(studio: Studio, open_page: Open, pain: str) -> None:
    set_id = new_set(studio.ilse, pain=pain == "before the set")
    check(studio.database, studio.files, report().model_copy(update={"findings": []}))
    studio.trainer.release(set_id)
    if pain == "after it was handed over":
        studio.ilse.after_set(set_id, "hard", True, "knee")
    person = studio.ilse.actor.id
    studio.trainer.clear_pain(person, studio.trainer.pain(person).last)
    text = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert told.WITH_PAIN in text and "Nothing stood out" not in text and "was your best" not in text


@on_both
def test_tempo_compares_with_the_usual(studio: Studio, open_page: Open) -> None:
    for n in (b"1", b"2"):
        new_set(studio.ilse, clip=n)
        check(studio.database, studio.files, report())
    text = read(open_page(studio.ilse, "tempo"))
    assert "That is the usual pace." in text and "flagged" not in text
    assert "In the last set both ways take as long as before" in text
    assert "flagged" in read(open_page(studio.trainer, "tempo", person=str(studio.ilse.actor.id)))


@pytest.mark.parametrize(("who", "in_step"), [("trainer", True), ("ilse", False)])
def test_two_sets_play_in_step_for_trainers(studio: Studio, open_page: Open, who: str, in_step: bool) -> None:
    for n in (b"1", b"2"):
        new_set(studio.ilse, clip=n)
        check(studio.database, studio.files)
    page = open_page(studio.all[who], "tempo", person=str(studio.ilse.actor.id))
    beside = next(s for s in page.selectbox if s.label == "Beside it")
    page = sound(beside.set_value(1).run())
    assert [s.label for s in page.select_slider] == ["Repetition, both clips in step"] * in_step
    assert read(page).count(" s a rep, ") == 2
    assert "<td>Lower</td>" in read(page) and "<td>alike</td>" in read(page)


@on_both
def test_what_was_decided_is_counted_a_check(studio: Studio, open_page: Open) -> None:
    for n in range(3):
        set_id = new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files)
        studio.trainer.decide(set_id, ["knee-lockout:4"], "agree")
        studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "no-fault")
    text = read(open_page(studio.trainer, "account", tab="Do you agree?"))
    assert "<td>Knees locked out</td><td>0</td><td>0</td><td>6</td>" in text
    assert "6 of 6 were called no fault, with 180 degrees in the middle" in text
