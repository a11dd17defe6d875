"""Every read and write, tried as a trainer, as the member it belongs to and as another member."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.rules import told
from app.rules.progress import advise
from app.store.access import Access, NewSet
from app.store.models import Person
from app.store.room import NewStack
from app.store.rules import Refused
from shared.errors import UsageError
from tests.store.conftest import JOINED, Studio
from tests.store.made import DAY, check, new_set, report

STACK = {"name": "stack", "x": 60.0, "y": 300.0, "time_s": 1.0}
Call = Callable[[Access, int, int], Any]

#: name, call with (access, id of Ilse, id of her checked set), who is let through
CALLS: list[tuple[str, Call, set[str]]] = [
    ("person", lambda a, p, s: a.person(p), {"trainer", "ilse"}),
    ("members", lambda a, p, s: a.members(), {"trainer"}),
    ("save_member", lambda a, p, s: a.save_member(p, "Ilse B", 170.0, True), {"trainer"}),
    ("add_member", lambda a, p, s: a.save_member(None, "Bero"), {"trainer"}),
    ("set_email", lambda a, p, s: a.set_email("runa@studio.example"), {"trainer"}),
    ("own_limits", lambda a, p, s: a.own_limits(p), {"trainer"}),
    ("card", lambda a, p, s: a.card(p, "leg-curl"), {"trainer", "ilse"}),
    ("save_card", lambda a, p, s: a.save_card(p, "leg-curl", seat="4", cleared=True), {"trainer"}),
    ("newcomer_due", lambda a, p, s: a.newcomer_due(p, 12), {"trainer"}),
    ("answer_newcomer", lambda a, p, s: a.answer_newcomer(p, still=True), {"trainer"}),
    ("make_link", lambda a, p, s: a.make_link(p), {"trainer"}),
    ("links", lambda a, p, s: a.links(p), {"trainer"}),
    ("revoke_links", lambda a, p, s: a.revoke_links(p), {"trainer"}),
    ("add_set", lambda a, p, s: a.add_set(NewSet(p, "leg-curl", DAY), io.BytesIO(b"x")), {"trainer", "ilse"}),
    ("may_send", lambda a, p, s: a.may_send(NewSet(p, "leg-curl", DAY)), {"trainer", "ilse"}),
    ("may_pair", lambda a, p, s: a.may_pair(s), {"trainer", "ilse"}),
    ("after_set", lambda a, p, s: a.after_set(s, "hard", True, "left knee"), {"trainer", "ilse"}),
    ("pain", lambda a, p, s: a.pain(p), {"trainer", "ilse"}),
    ("stopped", lambda a, p, s: a.stopped(), {"trainer"}),
    ("tell_pain", lambda a, p, s: a.tell_pain(p, "hip"), {"trainer", "ilse"}),
    ("deny_pain", lambda a, p, s: a.deny_pain(p), {"trainer", "ilse"}),
    ("denies_pain", lambda a, p, s: a.denies_pain(p), {"trainer", "ilse"}),
    ("card_number", lambda a, p, s: a.card_number(p), {"trainer", "ilse"}),
    ("give_cards", lambda a, p, s: a.give_cards([p]), {"trainer"}),
    ("end_card", lambda a, p, s: a.end_card(p), {"trainer"}),
    ("only_counted", lambda a, p, s: a.only_counted(DAY), {"trainer"}),
    ("tellings", lambda a, p, s: a.tellings(s), {"trainer"}),
    ("clear_pain", lambda a, p, s: a.clear_pain(p, a.pain(p).last), {"trainer"}),
    ("consent", lambda a, p, s: a.consent(p), {"trainer", "ilse"}),
    ("set", lambda a, p, s: a.set(s), {"trainer", "ilse"}),
    ("sets", lambda a, p, s: a.sets(p), {"trainer", "ilse"}),
    ("set_count", lambda a, p, s: a.set_count(p), {"trainer", "ilse"}),
    ("last_sets", lambda a, p, s: a.last_sets(p), {"trainer", "ilse"}),
    ("last_reviewed", lambda a, p, s: a.last_reviewed(p), {"trainer", "ilse"}),
    ("handed", lambda a, p, s: a.handed(p), {"trainer", "ilse"}),
    ("job", lambda a, p, s: a.job(s), {"trainer", "ilse"}),
    ("is_unsent", lambda a, p, s: a.is_unsent(s), {"trainer"}),
    ("has_handout", lambda a, p, s: a.has_handout(s), {"trainer"}),
    ("handout", lambda a, p, s: a.handout(s), {"trainer"}),
    ("try_again", lambda a, p, s: a.try_again(s), {"trainer"}),
    ("told", lambda a, p, s: a.told(s), {"trainer", "ilse"}),
    ("clip_file", lambda a, p, s: a.clip_file(s), {"trainer"}),
    ("told_clip", lambda a, p, s: a.told_clip(s), {"trainer", "ilse"}),
    ("has_told_clip", lambda a, p, s: a.has_told_clip(s), {"trainer", "ilse"}),
    ("has_clip", lambda a, p, s: a.has_clip(s), {"trainer"}),
    ("moving_file", lambda a, p, s: a.moving_file(s), {"trainer"}),
    ("has_moving", lambda a, p, s: a.has_moving(s), {"trainer"}),
    ("worst_pictures", lambda a, p, s: a.worst_pictures([s]), {"trainer"}),
    ("has_page", lambda a, p, s: a.has_page(s), {"trainer"}),
    ("report_page", lambda a, p, s: a.report_page(s), {"trainer"}),
    ("picture", lambda a, p, s: a.picture(s, "knee-lockout:4"), {"trainer", "ilse"}),
    ("picture_not_told", lambda a, p, s: a.picture(s, "chest-drop:6"), {"trainer"}),
    ("waiting", lambda a, p, s: a.waiting(), {"trainer"}),
    ("report", lambda a, p, s: a.report(s), {"trainer"}),
    ("reports", lambda a, p, s: a.reports([s]), {"trainer", "ilse"}),
    ("said", lambda a, p, s: a.said(s), {"trainer"}),
    ("decide", lambda a, p, s: a.decide(s, ["knee-lockout:4"], "agree"), {"trainer"}),
    ("add_moment", lambda a, p, s: a.add_moment(s, 3.0, "Feet flat."), {"trainer"}),
    ("release", lambda a, p, s: a.release(s), {"trainer"}),
    ("recall", lambda a, p, s: (a.release(s), a.recall(s)), {"trainer"}),
    ("release_clear", lambda a, p, s: a.release_clear([]), {"trainer"}),
    ("check_as", lambda a, p, s: a.check_as(s, "leg-curl", None), {"trainer"}),
    ("keep_machine", lambda a, p, s: a.keep_machine(s), {"trainer"}),
    ("holds_back", lambda a, p, s: a.holds_back(), {"trainer"}),
    ("hold_back", lambda a, p, s: a.hold_back(True), {"trainer"}),
    ("history", lambda a, p, s: a.history(p), {"trainer"}),
    ("load_questions", lambda a, p, s: a.load_questions(p), {"trainer", "ilse"}),
    ("load_answers", lambda a, p, s: a.load_answers(p), {"trainer", "ilse"}),
    ("said_load", lambda a, p, s: a.said_load(p, "leg-extension"), {"trainer", "ilse"}),
    ("answer_load", lambda a, p, s: a.answer_load(p, "leg-extension", "stay", s), {"trainer"}),
    (
        "take_back_load",
        lambda a, p, s: (
            a.answer_load(p, "leg-extension", "stay", s),
            a.take_back_load(p, "leg-extension", s),
        ),
        {"trainer"},
    ),
    ("week", lambda a, p, s: a.week(DAY), {"trainer"}),
    ("circuit", lambda a, p, s: a.circuit(p, DAY), {"trainer", "ilse"}),
    ("save_circuit", lambda a, p, s: a.save_circuit(p, ["leg-curl"]), {"trainer"}),
    ("mark_done", lambda a, p, s: a.mark_done(p, "leg-curl", DAY, True), {"trainer", "ilse"}),
    ("next_work", lambda a, p, s: a.next_work(p, DAY), {"trainer", "ilse"}),
    ("count_by_hand", lambda a, p, s: a.count_by_hand(s, 11), {"trainer"}),
    ("mend_set", lambda a, p, s: a.mend_set(s, DAY, 32.5, "kg"), {"trainer"}),
    ("found", lambda a, p, s: a.found(DAY), {"trainer"}),
    ("counts", lambda a, p, s: a.counts(DAY), {"trainer"}),
    ("added", lambda a, p, s: a.added(DAY), {"trainer"}),
    ("agreement", lambda a, p, s: a.agreement(p), {"trainer"}),
    ("use_limit", lambda a, p, s: a.use_limit(p, "leg-extension", "knee-lockout", None), {"trainer"}),
    ("studio_tempo", lambda a, p, s: a.studio_tempo(), {"trainer"}),
    ("ask_tempo", lambda a, p, s: a.ask_tempo(2.0, 3.0), {"trainer"}),
    ("asked_tempo", lambda a, p, s: a.asked_tempo(p, "leg-curl"), {"trainer", "ilse"}),
    ("mark_set", lambda a, p, s: a.mark_set(s, [STACK]), {"trainer"}),
    ("offered_marks", lambda a, p, s: a.offered_marks(s), {"trainer"}),
    ("delete_clip", lambda a, p, s: a.delete_clip(s), {"trainer", "ilse"}),
    ("trainers", lambda a, p, s: a.trainers(), {"trainer"}),
    ("invite_trainer", lambda a, p, s: a.invite_trainer("Bero"), {"trainer"}),
    ("looks", lambda a, p, s: a.looks(), {"trainer"}),
    ("decisions", lambda a, p, s: a.decisions(s), {"trainer"}),
    ("archive_member", lambda a, p, s: (a.archive_member(p), a.bring_back(p)), {"trainer"}),
    ("bring_back", lambda a, p, s: a.bring_back(p), {"trainer"}),
    ("archived", lambda a, p, s: a.archived(), {"trainer"}),
    ("export_member", lambda a, p, s: a.export_member(p, a._files.folder / "take.zip"), {"trainer"}),
    ("room", lambda a, p, s: a.room(), {"trainer", "ilse", "odo"}),
    ("save_room", lambda a, p, s: a.save_room(["leg-curl"], "lb", "ft"), {"trainer"}),
    ("save_load_rule", lambda a, p, s: a.save_load_rule("two-for-two", 8, 12), {"trainer"}),
    ("save_stack", lambda a, p, s: a.save_stack("leg-curl", NewStack("kg", 5.0, 5.0)), {"trainer"}),
    ("own_stacks", lambda a, p, s: a.own_stacks(), {"trainer"}),
    ("clips_older", lambda a, p, s: a.clips_older(30), {"trainer"}),
    ("keep_clips", lambda a, p, s: a.keep_clips(30), {"trainer"}),
    ("proven", lambda a, p, s: a.proven(), {"trainer"}),
    ("kept_proof", lambda a, p, s: a.kept_proof(), {"trainer"}),
    ("keep_proof", lambda a, p, s: a.keep_proof(False), {"trainer"}),
    ("make_station", lambda a, p, s: a.make_station("leg-curl"), {"trainer"}),
    ("stations", lambda a, p, s: a.stations(), {"trainer"}),
    ("end_station", lambda a, p, s: a.end_station("no such key"), {"trainer"}),
    ("reference", lambda a, p, s: a.reference(p, "leg-extension"), {"trainer", "ilse"}),
]


@pytest.mark.parametrize(("name", "call", "allowed"), CALLS, ids=[c[0] for c in CALLS])
def test_only_those_get_through_whom_it_concerns(
    studio: Studio, name: str, call: Call, allowed: set[str]
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    for who, access in studio.all.items():
        if who in allowed:
            call(access, studio.ilse.actor.id, set_id)
        else:
            with pytest.raises(Refused):
                call(access, studio.ilse.actor.id, set_id)


def test_every_public_method_is_tried_above() -> None:
    public = {n for n in dir(Access) if not n.startswith("_") and callable(getattr(Access, n))}
    tried = {name for name, _, _ in CALLS}
    assert public - tried == {
        "me", "make_reference", "put_back", "may_put_back", "let_go", "is_owner", "name_missed",
        "add_second", "delete_member",
    }  # fmt: skip


def test_a_guessed_id_is_refused_like_another_members(studio: Studio) -> None:
    for access in studio.all.values():
        with pytest.raises(Refused):
            access.set(4711)


def test_the_same_clip_sent_twice_is_recognised_for_its_member_alone(studio: Studio) -> None:
    first = new_set(studio.ilse)
    again = studio.ilse.add_set(NewSet(studio.ilse.actor.id, "leg-curl", DAY), io.BytesIO(b"clip"))
    assert again == (first, True)
    assert new_set(studio.odo) != first


def test_members_read_no_findings_beyond_what_they_are_told(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    assert studio.trainer.reports([set_id])[set_id].findings
    assert not studio.ilse.reports([set_id])[set_id].findings


def test_the_member_reads_exactly_what_the_trainer_hands_over(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    before = studio.ilse.told(set_id)
    assert before.state == "preliminary"
    assert {p.origin for p in before.prompts} == {"tool"}
    trainer = studio.trainer
    trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "reword", "Stop a hand's width earlier.")
    trainer.decide(set_id, ["chest-drop:11"], "no-fault")
    trainer.decide(set_id, ["dropped-load:11"], "agree")
    trainer.add_moment(set_id, 12.5, "Left foot slid off.")
    trainer.decide(set_id, [told.NOTE], "note", "Well done.")
    assert studio.ilse.told(set_id) == before, "nothing changes before it is handed over"
    trainer.release(set_id)
    after = studio.ilse.told(set_id)
    assert after.state == "released" and after.by == "Runa" and after.note == "Well done."
    assert after.prompts[0].words == "Stop a hand's width earlier."
    assert [p.origin for p in after.prompts] == ["reworded", "agreed", "added"]
    assert after.prompts[0].reps == [4, 9] and after.prompts[2].reps == [3]
    assert trainer.report(set_id) == trainer.report(set_id) and len(trainer.report(set_id).flags()) == 4  # type: ignore[union-attr]
    trainer.decide(set_id, ["dropped-load:11"], "no-fault")
    assert studio.ilse.told(set_id) == after, "a later thought counts from the next handing over"


def test_pain_stops_coaching_and_comes_first(studio: Studio) -> None:
    faulty = new_set(studio.odo)
    check(studio.database, studio.files)
    hurt = new_set(studio.ilse, pain=True, pain_where="left knee")
    check(studio.database, studio.files)
    assert [w.set_id for w in studio.trainer.waiting()] == [hurt, faulty]
    assert studio.trainer.waiting()[0].reason == "Pain reported: left knee"
    seen = studio.ilse.told(hurt)
    assert seen.stop and not seen.prompts and not seen.tempo


def test_pain_told_after_the_handing_over_brings_the_set_back(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert not studio.trainer.waiting()
    studio.ilse.after_set(set_id, "could-not-finish", True, "right knee")
    assert [w.set_id for w in studio.trainer.waiting()] == [set_id]
    assert studio.ilse.told(set_id).stop and not studio.ilse.told(set_id).prompts


def test_pain_can_be_told_without_a_clip(studio: Studio) -> None:
    told_pain = NewSet(studio.ilse.actor.id, "leg-curl", DAY, pain_before=True, pain_where="hip")
    set_id, _ = studio.ilse.add_set(told_pain, None)
    assert studio.trainer.waiting()[0].set_id == set_id
    studio.trainer.decide(set_id, [told.NOTE], "note", "Rest until Monday.")
    studio.trainer.release(set_id)
    assert studio.ilse.told(set_id).note == "Rest until Monday."


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"exercise": "rowing"}, "not known"),
        ({"load": float("nan")}, "load in kg must be"),
        ({"unit": "stone"}, "unit must be"),
        ({"pain_where": "x" * 301}, "too long"),
        ({"done_on": datetime.now(UTC).date() + timedelta(days=2)}, "has not come yet"),
        ({"done_on": JOINED.date() - timedelta(days=1)}, "joined on 05 January 2026"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_one_sentence(
    studio: Studio, wrong: dict[str, Any], sentence: str
) -> None:
    values: dict[str, Any] = {"person_id": studio.ilse.actor.id, "exercise": "leg-curl", "done_on": DAY}
    with pytest.raises(UsageError, match=sentence):
        studio.ilse.add_set(NewSet(**{**values, **wrong}), io.BytesIO(b"c"))


def test_a_decision_about_a_finding_that_is_not_there_is_refused(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    with pytest.raises(Refused):
        studio.trainer.decide(set_id, ["knee-lockout:99"], "agree")


def test_only_a_set_that_was_looked_at_becomes_the_reference(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    with pytest.raises(UsageError, match="Hand this set over first"):
        studio.trainer.make_reference(set_id)
    studio.trainer.release(set_id)
    studio.trainer.make_reference(set_id)
    assert studio.ilse.reference(studio.ilse.actor.id, "leg-extension") == set_id
    with pytest.raises(Refused):
        studio.ilse.make_reference(set_id)


def test_consent_keeps_its_first_date_and_whose_word_it_was(studio: Studio) -> None:
    with studio.database.write() as session:
        for access in (studio.ilse, studio.odo):
            session.get_one(Person, access.actor.id).consent_at = None
    studio.ilse.consent(studio.ilse.actor.id)
    first = studio.ilse.me().consent_at
    studio.trainer.consent(studio.ilse.actor.id)
    assert first is not None and (studio.ilse.me().consent_at, studio.ilse.me().consent_by) == (first, None)
    studio.trainer.consent(studio.odo.actor.id)
    assert studio.odo.me().consent_at and studio.odo.me().consent_by == "Runa"


@pytest.mark.parametrize("who", ["ilse", "trainer"])
def test_no_clip_is_kept_without_an_agreement_on_record(studio: Studio, who: str) -> None:
    ilse = studio.ilse.actor.id
    with studio.database.write() as session:
        session.get_one(Person, ilse).consent_at = None
    with pytest.raises(UsageError, match="agreed to this member being filmed"):
        studio.all[who].add_set(NewSet(ilse, "leg-curl", DAY), io.BytesIO(b"c"))
    assert not list(studio.files.folder.rglob("*")), "not even for a moment"
    studio.all[who].add_set(NewSet(ilse, "", DAY, pain_before=True), None)


def test_text_with_control_characters_is_kept_as_text(studio: Studio) -> None:
    studio.trainer.save_member(studio.ilse.actor.id, "Il\x00se <b>=1+1</b>")
    assert studio.ilse.me().name == "Ilse <b>=1+1</b>"


def test_the_load_is_no_question_after_pain_however_it_was_told(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, report().model_copy(update={"findings": []}))
    ilse = studio.ilse.actor.id
    assert [(r.load, r.repetitions, r.pain) for r in studio.trainer.history(ilse)] == [(30.0, 12, False)]
    assert advise(studio.trainer.history(ilse))[0].answer == "hold"
    studio.ilse.add_set(NewSet(ilse, "", DAY + timedelta(days=30), pain_before=True), None)
    assert advise(studio.trainer.history(ilse))[0].answer == "ask-trainer"
    assert studio.trainer.set(set_id).pain is False


def test_faults_that_were_dismissed_do_not_hold_the_load_back(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    record = studio.trainer.history(studio.ilse.actor.id)[0]
    assert (record.flags, record.dismissed) == (4, 0)
    studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "no-fault")
    assert studio.trainer.history(studio.ilse.actor.id)[0].open_faults == 2


def test_the_history_tells_how_a_set_felt_and_ended_in_pins_too(studio: Studio) -> None:
    made, ilse = report(), studio.ilse.actor.id
    late = [r.model_copy(update={"lift_s": 2 * r.lift_s, "lower_s": 2 * r.lower_s}) for r in made.reps[-3:]]
    slowed = made.model_copy(update={"reps": [*made.reps[:-3], *late], "findings": []})
    set_id = new_set(studio.ilse, unit="pin")
    check(studio.database, studio.files, slowed)
    studio.ilse.after_set(set_id, "easy", False)
    (record,) = studio.trainer.history(ilse)
    assert (record.unit, record.feeling) == ("pin", "easy")
    assert record.slowed is not None and record.slowed > 50
    assert "took" in advise([record])[0].evidence


def test_a_member_sees_the_clip_once_told_of_it_and_not_while_pain_stops_them(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    assert not studio.ilse.has_told_clip(set_id), "it is being checked"
    check(studio.database, studio.files)
    assert studio.ilse.told_clip(set_id).read_bytes() == b"drawn"
    studio.ilse.after_set(set_id, "hard", True, "knee")
    with pytest.raises(Refused):
        studio.ilse.told_clip(set_id)
