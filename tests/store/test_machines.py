"""The tempo that is asked, and the marks of a machine, on both databases."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy import text

from app.jobs import queue
from app.jobs.worker import own_limits
from app.rules.machine_marks import NOT_FIT
from app.store.database import migrate, open_database
from app.store.machines import NOT_YET
from app.store.models import Card, Job, now
from shared.errors import UsageError
from shared.exercise import Tempo
from shared.report import SetReport
from shared.report_machine import MachinePart, MarkPart
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from tests.unit.test_machine_places import sight

MACHINE = "leg-extension"
PAD = [
    {"name": "pad", "x": 100.0, "y": 300.0, "time_s": 2.0},
    {"name": "pad_end", "x": 90.0, "y": 100.0, "time_s": 2.0},
]
PIVOT = {"name": "pivot", "x": 200.0, "y": 280.0, "time_s": 2.0}
KNEE = {"name": "knee", "x": 195.0, "y": 281.0, "time_s": 2.0}


def _claimed(studio: Studio) -> queue.Claimed:
    job = queue.claim(studio.database)
    assert job is not None
    return job


def test_a_cards_tempo_comes_before_the_studios_and_both_reach_the_check(studio: Studio) -> None:
    ilse, trainer = studio.ilse.actor.id, studio.trainer
    assert studio.ilse.asked_tempo(ilse, MACHINE) is None
    trainer.ask_tempo(2.0, 3.0)
    assert trainer.studio_tempo() == studio.ilse.asked_tempo(ilse, MACHINE) == Tempo(lift_s=2, lower_s=3)
    trainer.save_card(ilse, MACHINE, lift_s=2.0, lower_s=4.0)
    assert studio.ilse.asked_tempo(ilse, MACHINE) == Tempo(lift_s=2, lower_s=4)
    assert studio.ilse.asked_tempo(ilse, "leg-curl") == Tempo(lift_s=2, lower_s=3)
    new_set(studio.ilse)
    member = own_limits(_claimed(studio))
    assert member is not None and member.own(MACHINE).tempo == Tempo(lift_s=2, lower_s=4)


def test_a_tempo_is_taken_back_whole_and_half_a_one_is_refused(studio: Studio) -> None:
    trainer = studio.trainer
    trainer.ask_tempo(2.0, 3.0)
    with pytest.raises(UsageError, match="seconds up and seconds down"):
        trainer.ask_tempo(2.0, None)
    assert trainer.studio_tempo() == Tempo(lift_s=2, lower_s=3)
    trainer.ask_tempo(None, None)
    assert trainer.studio_tempo() is None
    new_set(studio.ilse)
    assert own_limits(_claimed(studio)) is None


def _marked(studio: Studio, points: list[dict[str, Any]]) -> int:
    """A checked set that was marked and checked again."""
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.mark_set(set_id, points)
    return set_id


def test_a_marked_set_is_checked_again_by_its_marks(studio: Studio) -> None:
    set_id = _marked(studio, PAD)
    job = _claimed(studio)
    assert (job.set_id, list(job.marks)) == (set_id, PAD)


def test_marks_are_offered_for_the_machines_next_clip_and_used_only_once_confirmed(studio: Studio) -> None:
    marked = _marked(studio, [*PAD, PIVOT, KNEE])
    check(studio.database, studio.files)
    assert studio.trainer.offered_marks(marked) == [], "it has its own"
    later = new_set(studio.odo, clip=b"another")
    assert not _claimed(studio).marks, "nobody has said that they hold for this clip"
    _end(studio)
    offered = studio.trainer.offered_marks(later)
    assert [(p["name"], p["time_s"]) for p in offered] == [("pad", 0.0), ("pad_end", 0.0), ("pivot", 0.0)]
    studio.trainer.mark_set(later, offered)
    assert list(_claimed(studio).marks) == offered
    assert studio.trainer.offered_marks(later) == []


def _with_machine(**fields: Any) -> SetReport:
    return report().model_copy(update={"machine": MachinePart(**{"marks": [], **fields})})


def test_where_marked_parts_lie_from_the_board_reaches_the_checks_of_later_sets(studio: Studio) -> None:
    _marked(studio, [PIVOT])
    check(studio.database, studio.files, _with_machine(sights=[sight()]))
    later = new_set(studio.odo, clip=b"another")
    claimed = _claimed(studio)
    assert (claimed.set_id, claimed.places, list(claimed.marks)) == (later, (sight(),), [])


def test_a_pad_s_place_holds_for_members_with_that_setting_alone(studio: Studio) -> None:
    for person, setting in ((studio.ilse, "4"), (studio.odo, "5")):
        studio.trainer.save_card(person.actor.id, MACHINE, back_pad=setting)
    _marked(studio, PAD)
    check(studio.database, studio.files, _with_machine(sights=[sight("pad"), sight()]))
    new_set(studio.odo, clip=b"another")
    assert _claimed(studio).places == (sight(),)
    _end(studio)
    new_set(studio.ilse, clip=b"a third")
    assert _claimed(studio).places == (sight("pad"), sight())


def test_what_the_board_gave_is_not_offered_to_be_looked_at(studio: Studio) -> None:
    _marked(studio, [*PAD, PIVOT])
    check(studio.database, studio.files, _with_machine(sights=[sight()]))
    later, found = new_set(studio.odo, clip=b"another"), MarkPart(
        name="pivot", x=1.0, y=2.0, time_s=0.0, seen_share=1.0, confidence=1.0, board_half_cm=1.1
    )  # fmt: skip
    check(studio.database, studio.files, _with_machine(marks=[found]))
    assert [p["name"] for p in studio.trainer.offered_marks(later)] == ["pad", "pad_end"]


def test_marks_of_a_picture_of_another_size_or_another_machine_are_not_offered(studio: Studio) -> None:
    _marked(studio, PAD)
    check(studio.database, studio.files)
    later, sideways = new_set(studio.odo, clip=b"another"), report()
    turned = sideways.clip.model_copy(update={"width": sideways.clip.width + 2})
    check(studio.database, studio.files, sideways.model_copy(update={"clip": turned}))
    assert studio.trainer.offered_marks(later) == []


@pytest.mark.parametrize(
    "points",
    [
        [],
        [PAD[0]],
        [KNEE],
        [PAD[0], PAD[0], PAD[1]],
        [{**PIVOT, "name": "seat"}],
        [{**PIVOT, "x": 1e6}],
        [{**PIVOT, "y": float("nan")}],
        [{**PIVOT, "time_s": 1e6}],
        [{"name": "pivot"}],
    ],
)
def test_marks_that_cannot_be_used_are_refused_and_not_kept(
    studio: Studio, points: list[dict[str, Any]]
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    with pytest.raises(UsageError, match=NOT_FIT):
        studio.trainer.mark_set(set_id, points)
    assert studio.trainer.set(set_id).marks is None and queue.claim(studio.database) is None


def test_a_set_that_is_being_checked_is_marked_later(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    with pytest.raises(UsageError, match=NOT_YET):
        studio.trainer.mark_set(set_id, PAD)


def test_a_limit_of_before_holds_for_the_side_it_held_for(empty_url: str) -> None:
    database = open_database(empty_url)
    migrate(database, "0006")
    with database.write() as session:
        session.execute(
            text(
                "INSERT INTO person (name, role, beginner, active, created_at, asked_at_sets) "
                "VALUES ('Ilse', 'member', :f, :t, :at, 0)"
            ),
            {"f": False, "t": True, "at": "2026-03-02 10:00:00"},
        )
        for name, side in (("leg-curl", None), ("leg-extension", "left")):
            session.execute(
                text(
                    "INSERT INTO card (person_id, exercise, seat, back_pad, lever_pin, start_position, grip,"
                    " thigh_pad, foot_support, unit, limits, cleared, changed_at, at_most_deg, limit_side)"
                    " SELECT id, :name, '', '', '', '', '', '', '', 'kg', '', :f, :at, 150, :side FROM person"
                ),
                {"name": name, "side": side, "f": False, "at": "2026-03-02 10:00:00"},
            )
    migrate(database)
    with database.read() as session:
        cards = {c.exercise: (c.left_at_most_deg, c.right_at_most_deg) for c in session.query(Card)}
    assert cards == {"leg-curl": (150.0, 150.0), "leg-extension": (150.0, None)}
    database.close()


def _end(studio: Studio, said: SetReport | None = None) -> None:
    """Let the job that is held end: its lease is taken as over."""
    with studio.database.write() as session:
        for job in session.query(Job).filter(Job.state == "running"):
            job.lease_until = now().replace(year=2020)
    check(studio.database, studio.files, said)
