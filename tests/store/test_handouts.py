"""The hand-out: what was rejected never stands on it, and what a trainer said does."""

from __future__ import annotations

import io
from dataclasses import astuple
from datetime import timedelta

import cv2
import numpy as np
import pytest

from app.jobs import queue
from app.page.whole_report import TOOLS, as_decided
from app.rules import told
from app.rules.handed import handed
from shared.exercise import find_exercise
from shared.report import SetReport
from tests.store.conftest import Studio
from tests.store.made import DAY, new_set, report
from tests.unit import handmade
from vision.common.notices import LOOKS_LIKE
from vision.telling.files import HANDOUT
from vision.telling.html import render_html

LEG = find_exercise("leg-extension")
KNEES, CHEST = ["knee-lockout:4", "knee-lockout:9"], ["chest-drop:11"]
KEPT = b"as it came with the check"


def _checked(studio: Studio, said: SetReport | None = None, pain: bool = False) -> int:
    """A set with the hand-out of its check and a picture of each flag."""
    set_id = new_set(studio.ilse, pain=pain)
    job = queue.claim(studio.database)
    assert job is not None
    done, data = cv2.imencode(".jpg", np.full((40, 60, 3), 90, np.uint8))
    assert done
    keep = studio.files.keep
    named = [(HANDOUT, KEPT), *((key, bytes(data)) for key in (KNEES[0], CHEST[0]))]
    pictures = tuple((name, keep(io.BytesIO(content))) for name, content in named)
    queue.finish(studio.database, job, queue.Outcome(said or report(), pictures=pictures))
    return set_id


def _words(studio: Studio, set_id: int) -> str:
    kept = studio.trainer.report(set_id)
    said = studio.trainer.said(set_id)
    assert kept is not None
    content = told.released(kept, said, False, "Runa")
    return " ".join(str(part) for part in astuple(handed(kept, LEG, content, said, [("Load", "30 kg")])))


def test_as_long_as_nothing_else_was_decided_it_is_the_one_of_the_check(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.decide(set_id, KNEES, "agree")
    assert studio.trainer.handout(set_id) == KEPT


@pytest.mark.parametrize("what", ["no-fault", "reword", "note", "added"])
def test_whatever_a_trainer_changes_draws_it_anew(studio: Studio, what: str) -> None:
    set_id = _checked(studio)
    if what == "added":
        studio.trainer.add_moment(set_id, 12.5, "Feet flat.")
    else:
        keys = [told.NOTE] if what == "note" else KNEES
        studio.trainer.decide(set_id, keys, what, "" if what == "no-fault" else "In my words.")
    drawn = studio.trainer.handout(set_id)
    assert drawn is not None and drawn.startswith(b"\x89PNG") and drawn != KEPT


def test_what_was_called_no_fault_is_gone_and_her_words_are_there(studio: Studio) -> None:
    set_id = _checked(studio)
    assert "locking your knees" in _words(studio, set_id)
    studio.trainer.decide(set_id, KNEES, "no-fault")
    studio.trainer.decide(set_id, CHEST, "reword", "Tall chest. All the way.")
    studio.trainer.decide(set_id, [told.NOTE], "note", "Much better today.")
    studio.trainer.add_moment(set_id, 12.5, "Feet flat.")
    words = _words(studio, set_id)
    assert "locking your knees" not in words and "knees" not in words
    assert "Tall chest" in words and "All the way." in words
    assert "('Much better today.', 'Feet flat.')" in words and "Rep 11 of 13 (12 full, 1 short)." in words


def test_where_all_was_called_no_fault_nothing_is_to_change(studio: Studio) -> None:
    set_id = _checked(studio)
    flags = [told.key_of(one) for one in report().flags()]
    studio.trainer.decide(set_id, flags, "no-fault")
    words = _words(studio, set_id)
    assert "Nothing stood out" in words and "Stop just short" not in words


@pytest.mark.parametrize("what", ["day", "load", "card", "room"])
def test_whatever_of_the_facts_is_put_right_draws_it_anew(studio: Studio, what: str) -> None:
    set_id, trainer = _checked(studio), studio.trainer
    assert trainer.handout(set_id) == KEPT
    if what == "card":
        trainer.save_card(studio.ilse.actor.id, "leg-extension", seat="4")
    elif what == "room":
        trainer.save_room(trainer.room().machines, "lb", "cm")
    else:
        day = DAY - timedelta(days=what == "day")
        trainer.mend_set(set_id, day, 70.0 if what == "load" else 30.0, "kg")
    drawn = trainer.handout(set_id)
    assert drawn is not None and drawn != KEPT


def test_with_pain_there_is_none(studio: Studio) -> None:
    hurts = _checked(studio, pain=True)
    assert not studio.trainer.has_handout(hurts) and studio.trainer.handout(hurts) is None
    studio.trainer.clear_pain(studio.ilse.actor.id, studio.trainer.pain(studio.ilse.actor.id).last)
    assert studio.trainer.handout(hurts) is None, "it says that nothing is to change"


def test_in_doubt_of_the_machine_there_is_none_until_a_trainer_says_which(studio: Studio) -> None:
    notices = [f"{LOOKS_LIKE} chest press, not like leg extension."]
    set_id = _checked(studio, report().model_copy(update={"notices": notices}))
    assert not studio.trainer.has_handout(set_id)
    studio.trainer.keep_machine(set_id)
    drawn = studio.trainer.handout(set_id)
    assert studio.trainer.has_handout(set_id) and drawn is not None and drawn != KEPT
    words = _words(studio, set_id)
    assert LOOKS_LIKE not in words and "another machine" not in words
    assert "Stop just short of locking your knees." in words


def test_the_whole_report_opens_with_what_was_decided() -> None:
    page = b'<main><section class="sheet"><h1>Rejected</h1></section><details>all</details></main>'
    opened = as_decided(page, b"png", "none")
    assert b"Rejected" not in opened and b"data:image/png" in opened and TOOLS.encode() in opened
    assert b"none" in as_decided(page, None, "none") and b"Rejected" not in as_decided(page, None, "none")


def test_the_tools_own_hand_out_is_one_part_of_its_page() -> None:
    page = render_html(handmade.analysis(), {}).encode()
    assert page.count(b'<section class="sheet">') == page.count(b"<h1") == 1
    opened = as_decided(page, None, "none")
    assert b"<h1" not in opened and opened.startswith(page[: page.index(b"<section")])
