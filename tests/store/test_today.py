"""The day's reads and writes on both databases."""

from __future__ import annotations

import io
import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from app.jobs import queue
from app.jobs.worker import own_limits
from app.store import base
from app.store.access import NewSet
from app.store.rules import Refused, not_ahead, since_joined
from app.views import parts
from shared.errors import UsageError
from shared.limit import Limit
from tests.store.conftest import JOINED, Studio
from tests.store.made import DAY, check, new_set, report
from vision.telling.cues import MOST_CUES


def _states(studio: Studio, day: object = DAY) -> dict[str, str]:
    found = studio.ilse.circuit(studio.ilse.actor.id, day)  # type: ignore[arg-type]
    return {s.exercise: s.state for s in found.stations}


def test_filmed_and_done_machines_rest_the_day_after_and_are_due_again(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    new_set(studio.ilse)
    studio.ilse.mark_done(ilse, "leg-curl", DAY, True)
    studio.ilse.mark_done(ilse, "leg-curl", DAY, True)
    assert _states(studio)["leg-extension"] == "filmed" and _states(studio)["leg-curl"] == "done"
    next_day = _states(studio, DAY + timedelta(days=1))
    assert (next_day["leg-extension"], next_day["leg-curl"], next_day["chest-press"]) == (
        "resting", "resting", "due",
    )  # fmt: skip
    assert set(_states(studio, DAY + timedelta(days=2)).values()) == {"due"}
    assert set(_states(studio, DAY - timedelta(days=2)).values()) == {"due"}


def test_the_day_of_another_member_stays_theirs(studio: Studio) -> None:
    new_set(studio.odo)
    studio.odo.mark_done(studio.odo.actor.id, "leg-curl", DAY, True)
    assert set(_states(studio).values()) == {"due"}


def test_an_unknown_machine_is_in_no_circuit(studio: Studio) -> None:
    with pytest.raises(UsageError, match="not known"):
        studio.trainer.save_circuit(studio.ilse.actor.id, ["rowing"])
    with pytest.raises(Refused):
        studio.trainer.save_circuit(studio.trainer.actor.id, ["leg-curl"])


def test_nothing_is_marked_done_while_pain_is_open(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    set_id = new_set(studio.ilse, pain=True)
    later = DAY + timedelta(days=1)
    with pytest.raises(UsageError, match="talk to your trainer"):
        studio.ilse.mark_done(ilse, "leg-curl", later, True)
    assert studio.ilse.circuit(ilse, later).stop and studio.ilse.next_work(ilse, later) == []
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert studio.ilse.circuit(ilse, later).stop, "looked at is not cleared"


def test_nothing_is_marked_done_on_a_day_to_come_or_before_the_member_joined(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    with pytest.raises(UsageError, match="has not come yet"):
        studio.ilse.mark_done(ilse, "leg-curl", base.today() + timedelta(days=1), True)
    with pytest.raises(UsageError, match="joined on 05 January 2026"):
        studio.ilse.mark_done(ilse, "leg-curl", JOINED.date() - timedelta(days=1), True)


def test_what_to_work_on_comes_from_the_last_two_judged_sets_of_a_machine(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    for n in range(4):
        new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files)
    lines = studio.ilse.next_work(ilse, DAY)
    assert [line.set_id for line in lines] == [4] * len(lines) and len(lines) == MOST_CUES
    assert any("also in the set before" in why for why in lines[0].why)
    assert studio.ilse.next_work(ilse, DAY + timedelta(weeks=9)) == []


@pytest.mark.parametrize("held", [True, False], ids=["held back", "told at once"])
def test_what_was_handed_over_stays_to_be_worked_on_until_a_newer_set_is(studio: Studio, held: bool) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.hold_back(held)
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    clean = report().model_copy(update={"findings": []})
    for n in range(2):
        new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files, clean)
    assert {line.set_id for line in studio.ilse.next_work(ilse, DAY)} == {set_id}
    studio.trainer.release(set_id + 2)
    assert studio.ilse.next_work(ilse, DAY) == []


def test_a_members_own_limit_reaches_the_next_check(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.use_limit(ilse, "leg-extension", "knee-lockout", {"at_most": 178.0})
    new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None
    member = own_limits(job)
    assert member is not None
    assert member.own("leg-extension").limits == {"knee-lockout": Limit(at_most=178.0)}
    studio.trainer.use_limit(ilse, "leg-extension", "knee-lockout", None)
    assert studio.trainer.own_limits(ilse) == {}


@pytest.mark.parametrize(
    ("check_id", "limit"),
    [
        ("knee-lockout", {"at_least": 100.0}),
        ("knee-lockout", {"at_most": float("nan")}),
        ("knee-lockout", {}),
        ("rep-target", {"at_most": 3.0}),
        ("no-such", {"at_most": 3.0}),
    ],
)
def test_a_limit_that_does_not_fit_the_check_is_refused(
    studio: Studio, check_id: str, limit: dict[str, float]
) -> None:
    with pytest.raises(UsageError):
        studio.trainer.use_limit(studio.ilse.actor.id, "leg-extension", check_id, limit)


@pytest.mark.parametrize(("zone", "moment"), [("Pacific/Auckland", 20), ("America/Los_Angeles", 3)])
def test_the_day_is_the_studios_for_every_rule_and_page(
    studio: Studio, monkeypatch: pytest.MonkeyPatch, zone: str, moment: int
) -> None:
    monkeypatch.setenv("TZ", zone)
    time.tzset()
    try:
        at = datetime(2026, 11, 29, moment, 30, tzinfo=UTC)
        monkeypatch.setattr(base, "now", lambda: at)
        monkeypatch.setattr(parts, "today_utc", lambda: at)
        day = date(2026, 11, 30) if moment == 20 else date(2026, 11, 28)
        assert base.today() == parts.today() == not_ahead(day) == day
        with pytest.raises(UsageError, match="has not come yet"):
            not_ahead(day + timedelta(days=1))
        since_joined(at, day)
        set_id = studio.ilse.tell_pain(studio.ilse.actor.id)
        assert studio.ilse.set(set_id).done_on == day
    finally:
        monkeypatch.undo()
        time.tzset()


def test_the_load_of_a_clip_that_was_sent_before_is_kept_where_none_was_told(studio: Studio) -> None:
    told = NewSet(studio.ilse.actor.id, "leg-extension", DAY)
    set_id, _ = studio.ilse.add_set(told, io.BytesIO(b"clip"))
    for load in (30.0, 40.0):
        again = studio.ilse.add_set(replace(told, load=load, unit="lb"), io.BytesIO(b"clip"))
        assert again == (set_id, True)
    row = studio.ilse.set(set_id)
    assert (row.load, row.unit) == (30.0, "lb"), "what was told stays"


def test_the_load_of_a_clip_that_is_sent_again_under_another_machine_stays_off_the_old_set(
    studio: Studio,
) -> None:
    told = NewSet(studio.ilse.actor.id, "leg-extension", DAY)
    set_id, _ = studio.ilse.add_set(told, io.BytesIO(b"clip"))
    again = replace(told, exercise="chest-press", load=55.0)
    assert studio.ilse.add_set(again, io.BytesIO(b"clip")) == (set_id, True)
    row = studio.ilse.set(set_id)
    assert (row.exercise, row.load) == ("leg-extension", None)
