"""What was done at the desk and could not be kept: it stays on the screen, and nothing goes out behind it."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import pytest

from app.rules import told
from app.store.access import Access
from app.store.database import AWAY, StoreTrouble
from app.views import asking, clip
from app.views.desk import CHANGED, NOT_HANDED_OVER, STILL_HERE
from tests.page.screens import Open, click, read, sound
from tests.store.conftest import Studio
from tests.store.made import check, new_set

KNEES = ["knee-lockout:4", "knee-lockout:9"]
NO_FAULT = {"do": "no-fault", "keys": KNEES, "words": ""}
REWORD = {"do": "reword", "keys": ["chest-drop:11"], "words": "Chest tall, please."}
MOMENT = {"do": "moment", "time": 12.5, "words": "Feet flat.", "place": None}
NOTE = {"do": "note", "words": "Well done."}
HAND_OVER = {"do": "hand-over"}
STEPS = [NO_FAULT, REWORD, MOMENT, NOTE, HAND_OVER]


@pytest.fixture
def away(monkeypatch: pytest.MonkeyPatch) -> set[str]:
    """What of the store does not answer, by name; empty for all of it."""
    names = {"decide"}

    def broken(name: str) -> Any:
        real = getattr(Access, name)

        def asked(*given: Any, **more: Any) -> Any:
            if name in names:
                raise StoreTrouble(AWAY)
            return real(*given, **more)

        return asked

    for name in ("decide", "add_moment", "release", "set"):
        monkeypatch.setattr(Access, name, broken(name))
    return names


def _set(studio: Studio) -> int:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    return set_id


def _waits(studio: Studio, set_id: int) -> bool:
    return studio.trainer.set(set_id).reviewed_at is None


def test_while_a_step_is_not_kept_nothing_behind_it_is_and_all_stays_on_the_screen(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    set_id = _set(studio)
    page = open_page(studio.trainer, "review", did=STEPS, set=str(set_id))
    assert studio.trainer.said(set_id) == {} and _waits(studio, set_id)
    assert page.error[0].value == f"{AWAY} {STILL_HERE} {NOT_HANDED_OVER}"
    shown = open_page.shown[-1]  # type: ignore[attr-defined]
    kinds = {f["key"]: f["said"] and f["said"]["kind"] for c in shown["cards"] for f in c["findings"]}
    assert (kinds[KNEES[0]], kinds["chest-drop:11"], shown["note"]) == ("no-fault", "reword", "Well done.")
    assert [one["words"] for one in shown["added"]] == ["Feet flat."]
    assert (shown["applied"], shown["heard"]) == (0, len(STEPS)), "the desk keeps its log, but may hand over"


def test_trying_again_keeps_all_in_its_order_and_hands_nothing_over_by_itself(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    set_id = _set(studio)
    page = open_page(studio.trainer, "review", did=STEPS, set=str(set_id))
    click(page, "Try again")
    assert AWAY in read(page) and studio.trainer.said(set_id) == {}
    away.clear()
    click(page, "Try again")
    said = studio.trainer.said(set_id)
    assert {key: one.kind for key, one in said.items()} == {
        **dict.fromkeys(KNEES, "no-fault"), "chest-drop:11": "reword", "added:1": "added", told.NOTE: "note",
    }  # fmt: skip
    assert not page.error and "Try again" not in [b.label for b in page.button] and _waits(studio, set_id)
    assert open_page.shown[-1]["applied"] == len(STEPS)  # type: ignore[attr-defined]


def test_the_next_step_at_the_desk_tries_again_what_waits_before_it(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    set_id = _set(studio)
    page = open_page(studio.trainer, "review", did=[NO_FAULT], set=str(set_id))
    away.clear()
    page = open_page(studio.trainer, "review", page=page, did=[NO_FAULT, HAND_OVER], set=str(set_id))
    assert not _waits(studio, set_id)
    assert all(p.check != "knee-lockout" for p in studio.ilse.told(set_id).prompts)


def test_a_step_that_is_refused_is_told_with_its_words_and_holds_the_hand_over_back(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    away.clear()
    set_id = _set(studio)
    gone = {"do": "reword", "keys": ["knee-lockout:77"], "words": "Stop a little earlier."}
    page = open_page(studio.trainer, "review", did=[gone, NOTE, HAND_OVER], set=str(set_id))
    assert page.error[0].value == f"{CHANGED} Your words were: Stop a little earlier. {NOT_HANDED_OVER}"
    assert _waits(studio, set_id)
    assert set(studio.trainer.said(set_id)) == {told.NOTE} and not any(
        b.label == "Try again" for b in page.button
    )


def test_who_hands_over_before_they_could_read_of_a_refusal_hands_nothing_over(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    away.clear()
    set_id = _set(studio)
    gone = {"do": "no-fault", "keys": ["knee-lockout:77"], "words": ""}
    page = open_page(studio.trainer, "review", did=[gone], set=str(set_id))
    page = open_page(studio.trainer, "review", page=page, did=[gone, HAND_OVER], set=str(set_id))
    assert page.error[0].value == NOT_HANDED_OVER and _waits(studio, set_id)


def test_a_hand_over_that_is_not_kept_leaves_the_desk_open(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    set_id = _set(studio)
    away.add("release")
    away.remove("decide")
    page = open_page(studio.trainer, "review", did=[NO_FAULT, HAND_OVER], set=str(set_id))
    assert page.error[0].value == f"{AWAY} {NOT_HANDED_OVER}"
    assert set(studio.trainer.said(set_id)) == set(KNEES) and open_page.shown[-1]["heard"] == 2  # type: ignore[attr-defined]


def test_a_page_that_began_anew_does_nothing_twice(studio: Studio, open_page: Open, away: set[str]) -> None:
    away.clear()
    set_id = _set(studio)
    did = [MOMENT, NO_FAULT]
    open_page(studio.trainer, "review", did=did, set=str(set_id))
    studio.trainer.decide(set_id, KNEES, "agree")
    open_page(studio.trainer, "review", did=did, set=str(set_id))
    said = studio.trainer.said(set_id)
    assert {key: one.kind for key, one in said.items()} == {
        **dict.fromkeys(KNEES, "agree"),
        "added:1": "added",
    }


def test_a_page_that_began_anew_hands_nothing_over_by_an_old_log(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    away.clear()
    set_id = _set(studio)
    page = open_page(studio.trainer, "review", did=[NOTE, HAND_OVER], at_once=True, set=str(set_id))
    assert _waits(studio, set_id) and page.error[0].value == NOT_HANDED_OVER
    assert set(studio.trainer.said(set_id)) == {told.NOTE}


def test_what_waits_outlasts_a_page_that_cannot_be_shown(
    studio: Studio, open_page: Open, away: set[str]
) -> None:
    set_id = _set(studio)
    page = open_page(studio.trainer, "review", did=[NO_FAULT, NOTE], set=str(set_id))
    away.add("set")
    page = open_page(studio.trainer, "review", page=page, set=str(set_id))
    assert "This set cannot be shown just now" in read(page) and AWAY in read(page)
    away.clear()
    click(page, "Try again")
    assert set(studio.trainer.said(set_id)) == {*KNEES, told.NOTE}


def test_what_waits_outlasts_a_moment_in_which_nobody_can_tell_who_is_asking(
    studio: Studio, open_page: Open, away: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def gone(*_: object) -> None:
        raise StoreTrouble(AWAY)

    set_id = _set(studio)
    page = open_page(studio.trainer, "review", did=[NO_FAULT, NOTE], set=str(set_id))
    monkeypatch.setattr(asking, "acting", gone)
    assert AWAY in read(sound(page.run()))
    away.clear()
    monkeypatch.setattr(asking, "acting", lambda *_: studio.trainer.actor)
    click(page, "Try again")
    assert set(studio.trainer.said(set_id)) == {*KNEES, told.NOTE}


def test_what_is_heard_of_a_desk_that_is_taken_away_is_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    log, state = [{"n": 1, **NOTE}], {}
    monkeypatch.setattr(clip, "st", SimpleNamespace(session_state=state))

    def shown(last: Any, hears: bool) -> Any:
        def desk(data: object, key: str, on_log_change: Callable[[], None]) -> Any:
            if hears:
                on_log_change()
            return SimpleNamespace(log=last)

        monkeypatch.setattr(clip, "_DESK", desk)
        state["desk-1"] = {"log": log}
        return clip.desk({}, "desk-1")

    assert shown(None, hears=False) == [] and shown(None, hears=True) == log == shown(None, hears=False)
