"""The screens of a member's day, their own limits and the load, as trainer and as member."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest
from streamlit.testing import v1 as testing

from app.jobs import queue
from app.page.studio import Studio as Store
from app.rules import told
from app.rules.next_work import Open as Unsettled
from app.store.models import Card
from app.store.settings import StoreSettings
from app.views import asking, parts
from app.views.day import NOTHING_OPEN, OPEN
from tests.page.screens import MAIN, Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report

CLEAN = report().model_copy(update={"findings": []})
pytestmark = pytest.mark.usefixtures("on_the_day")


@pytest.fixture
def on_the_day(monkeypatch: pytest.MonkeyPatch) -> None:
    """The day on which the sets of ``tests.store.made`` were done."""
    from datetime import UTC, datetime

    monkeypatch.setattr(parts, "today_utc", lambda: datetime(2026, 3, 2, 12, tzinfo=UTC))


def test_a_member_marks_a_machine_done_and_takes_it_back(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.ilse, "today")
    assert "0 of 6 machines done today, 6 due" in read(page) and "No set yet." in read(page)
    page = click(page, "Done")
    assert "1 of 6 machines done today, 5 due" in read(page)
    assert "Undo" not in labels(page), "the second of two taps on Done meets no button that takes it back"
    assert "0 of 6" in read(click(page, "Not done after all"))


def test_a_filmed_machine_is_done_and_leads_to_its_set(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    text = read(open_page(studio.ilse, "today"))
    assert "Filmed today" in text and "1 of 6 machines done today, 5 due" in text


@pytest.mark.parametrize("who", ["ilse", "trainer"])
def test_what_to_work_on_next_says_why_to_the_trainer_alone(
    studio: Studio,
    open_page: Open,
    who: str,
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    screen = "today" if who == "ilse" else "members"
    before = read(open_page(studio.all[who], screen, person=str(studio.ilse.actor.id)))
    assert (told.NOT_LOOKED_AT if who == "ilse" else "waits for you") in before
    studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "reword", "Stop <b>earlier</b>.")
    studio.trainer.release(set_id)
    text = read(open_page(studio.all[who], screen, person=str(studio.ilse.actor.id)))
    assert "Stop &lt;b&gt;earlier&lt;/b&gt;." in text
    assert ("taken to its end under load" in text) is (who == "trainer")


def test_a_set_nobody_has_looked_at_says_nothing_of_what_to_work_on(studio: Studio, open_page: Open) -> None:
    studio.trainer.hold_back(True)
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, report().model_copy(update={"findings": []}))
    text = read(open_page(studio.ilse, "today"))
    assert OPEN["waits"][0].format(title="leg extension") in text and NOTHING_OPEN not in text
    studio.trainer.release(set_id)
    assert NOTHING_OPEN in read(open_page(studio.ilse, "today"))


def _could_not_be_read(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None
    queue.fail(studio.database, job, "notes.mov is no video.")
    studio.trainer.release(set_id)


def _cleared_pain(studio: Studio) -> None:
    set_id, person = new_set(studio.ilse, pain=True), studio.ilse.actor.id
    check(studio.database, studio.files, CLEAN)
    studio.trainer.release(set_id)
    studio.trainer.clear_pain(person, studio.trainer.pain(person).last)


def _newer_one(studio: Studio, checked: bool) -> None:
    """The older one was handed over and has nothing to work on; the newer one has."""
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, CLEAN)
    studio.trainer.release(set_id)
    new_set(studio.ilse, clip=b"newer")
    if checked:
        check(studio.database, studio.files)


def _two_machines(studio: Studio) -> None:
    """The one done last was handed over and has nothing to work on; the other one waits."""
    new_set(studio.ilse)
    check(studio.database, studio.files)
    set_id = new_set(studio.ilse, exercise="leg-curl", clip=b"another")
    check(studio.database, studio.files, CLEAN.model_copy(update={"exercise": "leg-curl"}))
    studio.trainer.release(set_id)


@pytest.mark.parametrize("who", ["ilse", "trainer"])
@pytest.mark.parametrize(
    ("left", "what"),
    [
        (_two_machines, "waits"),
        (_could_not_be_read, "unread"),
        (_cleared_pain, "pain"),
        (partial(_newer_one, checked=False), "checking"),
        (partial(_newer_one, checked=True), "waits"),
    ],
    ids=[
        "another machine waits",
        "no video",
        "pain that was cleared",
        "a newer one is checked",
        "a newer one waits",
    ],
)
def test_nobody_is_told_that_nothing_is_open_where_something_is(
    studio: Studio, open_page: Open, left: Callable[[Studio], None], what: Unsettled, who: str
) -> None:
    studio.trainer.hold_back(True)
    left(studio)
    screen = "today" if who == "ilse" else "members"
    text = read(open_page(studio.all[who], screen, person=str(studio.ilse.actor.id)))
    assert OPEN[what][who == "trainer"].format(title="leg extension") in text and NOTHING_OPEN not in text
    assert "locking your knees" not in text, "what was not handed over"


def test_pain_leaves_nothing_to_do_but_stop(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse, pain=True, pain_where="hip")
    page = open_page(studio.ilse, "today")
    assert told.STOP in read(page) and "Done" not in labels(page)
    assert NOTHING_OPEN not in read(page) and "Work on this next" not in [s.value for s in page.header]


def test_a_trainer_orders_the_machines_and_goes_back_to_the_usual(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    page = open_page(studio.trainer, "members", person=str(ilse))
    page.multiselect[0].set_value(["reverse-fly", "leg-curl"]).run()
    page = click(page, "Save this circuit")
    text = read(page)
    assert text.index("1. Reverse fly") < text.index("2. Seated leg curl")
    assert "Needs your trainer" in text and studio.trainer.person(ilse).circuit == ["reverse-fly", "leg-curl"]
    click(page, "Back to the usual one")
    assert studio.trainer.person(ilse).circuit is None


def test_a_members_own_limit_is_used_only_when_the_trainer_says_so(studio: Studio, open_page: Open) -> None:
    ilse = studio.ilse.actor.id
    for n in range(3):
        set_id = new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files)
        studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "no-fault")
    page = open_page(studio.trainer, "members", tab="Do you agree?", person=str(ilse))
    with studio.database.read() as session:
        assert session.query(Card).count() == 0
    page = click(page, "Use at most 180 degrees for Ilse")
    assert studio.trainer.own_limits(ilse) == {"leg-extension": {"knee-lockout": {"at_most": 180.0}}}
    assert "at most 180 degrees, their own limit" in read(page)
    click(page, "Back to the usual limit")
    assert studio.trainer.own_limits(ilse) == {}


def test_the_load_reads_right_for_whoever_reads_it(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    ilse = str(studio.ilse.actor.id)
    trainer = read(open_page(studio.trainer, "members", tab="Load", person=ilse))
    assert "Settle the " in trainer and "Ask the trainer" not in trainer
    member = read(open_page(studio.ilse, "tempo"))
    assert "Speak to your trainer before your next set" in member and "fault" not in member


def test_the_members_first_screen_is_their_day(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    store = Store(StoreSettings("", studio.files.folder), studio.database, studio.files)
    monkeypatch.setattr(asking, "this_studio", lambda: store)
    monkeypatch.setattr(asking, "acting", lambda *_: studio.ilse.actor)
    page = testing.AppTest.from_file(str(MAIN), default_timeout=30).run()
    assert "Hello Ilse" in read(page) and "6 due" in read(page)


STACK = """[load.stacks.leg-extension]
unit = "kg"
start = 10
step = 10
add_on = 2
"""


def test_the_load_is_asked_by_the_studios_own_stack(studio: Studio, open_page: Open) -> None:
    ilse, file = studio.ilse.actor.id, studio.files.folder / "studio.toml"
    for n in range(2):
        set_id = new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files, report().model_copy(update={"count": 15, "findings": []}))
        studio.ilse.after_set(set_id, "easy", False)
    file.write_text(STACK, encoding="utf-8")
    text = read(open_page(studio.trainer, "members", tab="Load", person=str(ilse)))
    assert "Two steady sets of 15, felt easy. It is a step of 7 %." in text
    assert "<b>Go up to 32 kg?</b>" in text
    assert "Chest press.</b> Start with one of the two lightest plates? The right load is" in text
    file.write_text(STACK.replace("kg", "stone"), encoding="utf-8")
    text = read(open_page(studio.trainer, "members", tab="Load", person=str(ilse)))
    assert "studio.toml" in text and "unit" in text


def test_who_is_new_to_a_machine_reads_how_light_to_begin(studio: Studio, open_page: Open) -> None:
    def film(machine: str) -> str:
        page = open_page(studio.ilse, "film", machine=machine)
        page.button_group[0].set_value("No").run()
        return read(page)

    new_set(studio.ilse)
    said = film("leg-curl")
    assert "one of the two lightest plates, and add a plate only when your trainer says so" in said
    assert "hard" not in said
    assert "lightest" not in film("leg-extension")


def test_the_studio_shows_its_rule_and_its_stacks(studio: Studio, open_page: Open) -> None:
    shown = open_page(studio.trainer, "account", tab="Settings")
    text = read(shown)
    assert (
        "after 2 sets running of 15 reps or more" in text
        and "<td>Leg extension</td><td>not told</td>" in text
    )
    studio.files.folder.mkdir(exist_ok=True)
    rule = '[load]\nrule = "two-for-two"\n'
    (studio.files.folder / "studio.toml").write_text(rule + STACK + "add_ons = 2\n", encoding="utf-8")
    text = read(shown.run())
    assert "2 sets running, the last of each day, of 17 reps" in text and "two-for-two" in text
    assert "<td>Leg extension</td><td>10 kg</td><td>10 kg</td><td>2 kg, 2 at hand</td>" in text
