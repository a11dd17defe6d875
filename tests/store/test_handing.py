"""Handing over: held back until looked at, taken back within a minute, checked again as another machine."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest

from app.jobs import queue
from app.rules import told
from app.rules.other_machine import MACHINE
from app.rules.unread import ASKED
from app.rules.worry import CLEAR as CLEAR_RANK
from app.rules.worry import NOT_JUDGED
from app.store import models, queries
from app.store.models import now
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from tests.store.test_machines import PAD
from vision.common.notices import LOOKS_LIKE

CLEAR = report().model_copy(update={"findings": []})


def _checked(studio: Studio, clip: bytes = b"clip", **changes: object) -> int:
    set_id = new_set(studio.ilse, clip=clip)
    check(studio.database, studio.files, report().model_copy(update=changes))
    return set_id


def _fail(studio: Studio) -> None:
    job = queue.claim(studio.database)
    assert job is not None
    queue.fail(studio.database, job, "front.mov is no video.")


def test_until_a_studio_chooses_members_read_only_what_was_handed_over(studio: Studio) -> None:
    with studio.database.write() as session:
        session.delete(session.get_one(models.Studio, 1))
    set_id = _checked(studio)
    held = studio.ilse.told(set_id)
    assert (held.state, held.prompts, held.praise, held.tempo) == ("held", [], "", "")
    studio.trainer.hold_back(False)
    assert studio.ilse.told(set_id).state == "preliminary" and studio.ilse.told(set_id).prompts
    studio.trainer.hold_back(True)
    studio.trainer.release(set_id)
    assert studio.ilse.told(set_id).prompts


def test_how_to_film_again_is_never_held_back(studio: Studio) -> None:
    from tests.unit.handmade import analysis

    studio.trainer.hold_back(True)
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, analysis(usable=False).report)
    assert studio.ilse.told(set_id).state == "unfit" and studio.ilse.told(set_id).problems


def test_what_was_handed_over_is_taken_back_within_a_minute(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.release(set_id)
    studio.trainer.recall(set_id)
    assert studio.trainer.set(set_id).reviewed_at is None
    assert studio.ilse.told(set_id).state == "preliminary"
    studio.trainer.release(set_id)
    with studio.database.write() as session:
        queries.release(session, set_id).at = now() - timedelta(seconds=61)  # type: ignore[union-attr]
    with pytest.raises(UsageError, match="A minute has passed"):
        studio.trainer.recall(set_id)


def test_taking_back_leaves_what_was_handed_over_before(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.release(set_id)
    studio.trainer.decide(set_id, [told.NOTE], "note", "Well done.")
    studio.trainer.release(set_id)
    studio.trainer.recall(set_id)
    assert studio.ilse.told(set_id).state == "released" and studio.ilse.told(set_id).note == ""
    assert studio.trainer.set(set_id).reviewed_at is not None


def test_neither_other_units_nor_other_wording_count_as_something_not_sent(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    flag = report().flags()[0].model_copy(update={"prompt": "Hips back: you slid forward 6 cm."})
    set_id = _checked(studio, findings=[flag])
    studio.trainer.decide(set_id, [told.NOTE], "note", "Well done.")
    studio.trainer.release(set_id)
    studio.trainer.save_room(studio.trainer.room().machines, "lb", "ft")
    assert "2.5 in" in told.decided_prompts(studio.trainer.report(set_id), {})[0].words
    assert not studio.trainer.is_unsent(set_id)
    monkeypatch.setattr(told, "_words", lambda *_: "Worded anew by an upgrade.")
    assert not studio.trainer.is_unsent(set_id)


@pytest.mark.parametrize("since", ["a decision", "a note", "a moment", "a count", "a check"])
def test_what_was_said_or_checked_since_the_hand_over_was_not_sent(studio: Studio, since: str) -> None:
    set_id, trainer = _checked(studio), studio.trainer
    trainer.release(set_id)
    assert not trainer.is_unsent(set_id)
    if since == "a decision":
        trainer.decide(set_id, ["knee-lockout:4"], "no-fault")
    elif since == "a note":
        trainer.decide(set_id, [told.NOTE], "note", "Well done.")
    elif since == "a moment":
        trainer.add_moment(set_id, 3.0, "Feet flat.")
    elif since == "a count":
        trainer.count_by_hand(set_id, 11)
    else:
        trainer.mark_set(set_id, [dict(point) for point in PAD])
        check(studio.database, studio.files)
    assert trainer.is_unsent(set_id)
    trainer.release(set_id)
    assert not trainer.is_unsent(set_id)


def test_a_decision_that_was_undone_leaves_nothing_to_send(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.release(set_id)
    for kind in ("no-fault", "withdrawn"):
        studio.trainer.decide(set_id, ["knee-lockout:4"], kind)
        assert studio.trainer.is_unsent(set_id) is (kind == "no-fault")


def test_what_only_the_tool_is_told_leaves_nothing_to_send(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.add_moment(set_id, 3.0, "Knees locked.")
    studio.trainer.release(set_id)
    studio.trainer.name_missed(set_id, "added:1", "knee-lockout")
    studio.trainer.keep_machine(set_id)
    assert not studio.trainer.is_unsent(set_id)


def test_checked_as_another_machine_nothing_of_the_old_one_stays(studio: Studio) -> None:
    set_id = _checked(studio)
    studio.trainer.decide(set_id, ["knee-lockout:4"], "agree")
    studio.trainer.add_moment(set_id, 3.0, "Feet flat.", (0.5, 0.25))
    studio.trainer.release(set_id)
    studio.trainer.check_as(set_id, "chest-press", "left")
    row = studio.trainer.set(set_id)
    assert (row.exercise, row.side, row.status, row.reviewed_at) == ("chest-press", "left", "checking", None)
    assert set(studio.trainer.said(set_id)) == {"added:1"}
    assert studio.ilse.told(set_id).state == "checking"
    assert check(studio.database, studio.files) == set_id
    with pytest.raises(UsageError, match="not known"):
        studio.trainer.check_as(set_id, "rowing", None)


def test_once_tried_again_no_other_video_is_asked_for(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    _fail(studio)
    for _ in range(2):
        studio.trainer.release(set_id)
    assert studio.ilse.told(set_id).headline == ASKED
    studio.trainer.try_again(set_id)
    assert studio.ilse.told(set_id).state == "checking" and studio.trainer.set(set_id).reviewed_at is None


@pytest.mark.parametrize("again", ["marked", "filmed from another side"])
def test_what_was_decided_before_a_new_check_is_not_taken_for_what_it_numbers_anew(
    studio: Studio, again: str
) -> None:
    set_id = _checked(studio)
    studio.trainer.decide(set_id, ["knee-lockout:4"], "no-fault")
    studio.trainer.decide(set_id, [told.NOTE], "note", "Well done.")
    studio.trainer.add_moment(set_id, 3.0, "Feet flat.")
    studio.trainer.keep_machine(set_id)
    if again == "marked":
        studio.trainer.mark_set(set_id, [dict(point) for point in PAD])
    else:
        studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    assert set(studio.trainer.said(set_id)) == {told.NOTE, "added:1", MACHINE}


@pytest.mark.parametrize("looks_like", [True, False])
def test_a_set_of_another_machine_is_not_coached_until_a_trainer_says_which(
    studio: Studio, looks_like: bool
) -> None:
    notices = [f"{LOOKS_LIKE} chest press, not like leg extension."] if looks_like else []
    set_id = _checked(studio, notices=notices, other_machines=["chest-press"] * looks_like)
    read, waits = studio.ilse.told(set_id), studio.trainer.waiting()[0]
    assert waits.reason.startswith("Machine in doubt: this looks like chest press") is looks_like
    assert (read.state == "held") is looks_like and bool(read.notice) is looks_like
    studio.trainer.keep_machine(set_id)
    assert studio.trainer.said(set_id)[MACHINE].kind == "agree"
    assert "in doubt" not in studio.trainer.waiting()[0].reason
    after = studio.ilse.told(set_id)
    assert (after.state, after.notice) == ("preliminary", "") and after.prompts
    studio.trainer.hold_back(True)
    assert (studio.ilse.told(set_id).state, studio.ilse.told(set_id).notice) == ("held", "")


def test_many_flags_at_once_raise_no_doubt_of_a_machine_that_was_confirmed(studio: Studio) -> None:
    flag = next(f for f in report().flags() if f.rep == 4)
    whole = [rep.number for rep in report().reps]
    many = [flag.model_copy(update={"check": c, "rep": n}) for n in whole for c in ("one", "two", "three")]
    set_id = _checked(studio, findings=many)
    assert studio.ilse.told(set_id).state == "held" and studio.ilse.told(set_id).notice
    studio.trainer.keep_machine(set_id)
    assert studio.ilse.told(set_id).state == "preliminary" and not studio.ilse.told(set_id).notice


def test_a_clear_set_of_another_machine_is_not_said_to_have_nothing_flagged(studio: Studio) -> None:
    notices = [f"{LOOKS_LIKE} chest press, not like leg extension."]
    set_id = _checked(studio, findings=[], notices=notices, other_machines=["chest-press"])
    (waits,) = studio.trainer.waiting()
    assert waits.worry == NOT_JUDGED and "Nothing flagged" not in waits.reason
    with pytest.raises(UsageError, match="not clear any more"):
        studio.trainer.release_clear([set_id])


def test_a_set_that_waits_with_the_rank_of_an_earlier_version_is_rated_anew(studio: Studio) -> None:
    notices = [f"{LOOKS_LIKE} chest press, not like leg extension."]
    set_id = _checked(studio, findings=[], notices=notices, other_machines=["chest-press"])
    with studio.database.write() as session:
        row = session.get_one(models.TrainingSet, set_id)
        row.worry, row.worry_words = CLEAR_RANK, "Nothing flagged"
    with pytest.raises(UsageError, match="not clear any more"):
        studio.trainer.release_clear([set_id])
    (waits,) = studio.trainer.waiting()
    assert waits.worry == NOT_JUDGED and waits.reason.startswith("Machine in doubt")


def test_only_clear_sets_are_handed_over_together(studio: Studio) -> None:
    clear = []
    for clip in (b"1", b"2"):
        clear.append(new_set(studio.ilse, clip=clip))
        check(studio.database, studio.files, CLEAR)
    flagged = _checked(studio, b"3")
    with pytest.raises(UsageError, match="not clear any more"):
        studio.trainer.release_clear([*clear, flagged])
    assert all(studio.trainer.set(n).reviewed_at is None for n in clear), "all of them or none"
    studio.trainer.release_clear(clear)
    assert all(studio.trainer.set(n).reviewed_at is not None for n in clear)
