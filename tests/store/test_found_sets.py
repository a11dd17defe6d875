"""What a phone at a machine found: under whose name it is kept, when it is only counted, and only once."""

from __future__ import annotations

import io
import os
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import func, select

from app.store.base import day_of
from app.store.database import Database
from app.store.found_sets import WHY, Found, Taken, keep_found, key_of, why_not
from app.store.models import Job, Person, TrainingSet, now
from app.store.tellings import NoPain, denied
from shared.errors import UsageError
from tests.store.conftest import Studio

ILSE = 1


@pytest.fixture
def ready(studio: Studio) -> Studio:
    """Ilse has a card and said that nothing hurts; Odo has a card."""
    studio.trainer.give_cards()
    studio.ilse.deny_pain(studio.ilse.actor.id)
    return studio


def found(card: int | None = ILSE, exercise: str | None = "leg-curl", start_s: float = 60.0) -> Found:
    return Found(key_of("a" * 64, start_s), card, exercise, now())


def keep(studio: Studio, one: Found, clip: bytes = b"cut") -> Taken:
    return keep_found(studio.database, studio.files, one, io.BytesIO(clip), "set-01.mp4")


def count(database: Database, kind: type) -> int:
    with database.read() as session:
        return session.scalar(select(func.count()).select_from(kind)) or 0


def nothing_kept(studio: Studio) -> bool:
    return not count(studio.database, TrainingSet) and not list(studio.files.addresses())


def test_a_found_set_waits_to_be_checked_like_a_sent_one(ready: Studio) -> None:
    taken = keep(ready, found())
    assert taken.set_id is not None and taken.sentence == ""
    row = ready.ilse.set(taken.set_id)
    assert (row.exercise, row.status, row.clip_name) == ("leg-curl", "checking", "set-01.mp4")
    job = ready.ilse.job(taken.set_id)
    assert job is not None and job.state == "queued"
    assert not ready.trainer.only_counted(day_of(now()))


def _no_card(studio: Studio) -> Found:
    return found(card=None)


def _nobody(studio: Studio) -> Found:
    return found(card=200)


def _archived(studio: Studio) -> Found:
    studio.trainer.archive_member(studio.ilse.actor.id)
    return found()


def _not_agreed(studio: Studio) -> Found:
    with studio.database.write() as session:
        session.get_one(Person, studio.ilse.actor.id).consent_at = None
    return found()


def _pain(studio: Studio) -> Found:
    studio.ilse.tell_pain(studio.ilse.actor.id, "left knee")
    return found()


def _cleared_but_not_asked_again(studio: Studio) -> Found:
    ilse = studio.ilse.actor.id
    studio.ilse.tell_pain(ilse, "left knee")
    studio.trainer.clear_pain(ilse, studio.trainer.pain(ilse).last)
    return found()


def _not_asked(studio: Studio) -> Found:
    return found(card=2)


def _answered_yesterday(studio: Studio) -> Found:
    with studio.database.write() as session:
        session.scalars(select(NoPain)).one().at = now() - timedelta(days=1)
    return found()


def _no_machine(studio: Studio) -> Found:
    return found(exercise=None)


@pytest.mark.parametrize(
    ("case", "why"),
    [
        (_no_card, "no-card"),
        (_nobody, "no-member"),
        (_archived, "no-member"),
        (_not_agreed, "not-agreed"),
        (_pain, "pain"),
        (_cleared_but_not_asked_again, "not-asked"),
        (_not_asked, "not-asked"),
        (_answered_yesterday, "not-asked"),
        (_no_machine, "no-machine"),
    ],
)
def test_where_a_rule_refuses_nothing_is_kept_but_a_count(ready: Studio, case: object, why: str) -> None:
    one = case(ready)  # type: ignore[operator]
    sets = count(ready.database, TrainingSet)
    assert why_not(ready.database, one) == why
    taken = keep(ready, one)
    assert taken.set_id is None and taken.sentence == WHY[why]
    assert count(ready.database, TrainingSet) == sets and not count(ready.database, Job)
    assert not list(ready.files.addresses())
    (line,) = ready.trainer.only_counted(day_of(now()))
    assert (line.exercise, line.why, line.sets) == (one.exercise or "", why, 1)


def test_nothing_of_a_refused_set_is_ever_copied(ready: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    def copied(source: object) -> str:
        raise AssertionError("copied")

    monkeypatch.setattr(ready.files, "keep", copied)
    assert keep(ready, found(card=None)).why == "no-card"


def test_a_card_counts_for_sets_after_it_was_given(ready: Studio) -> None:
    earlier = Found("b" * 64, ILSE, "leg-curl", now() - timedelta(minutes=5))
    assert keep(ready, earlier).why == "no-member"


def test_the_same_set_handed_over_again_is_kept_and_counted_once(ready: Studio) -> None:
    kept = keep(ready, found())
    assert keep(ready, found(), b"cut anew, with other bytes") == kept
    assert keep(ready, found(card=None, start_s=90.0)) == keep(ready, found(card=None, start_s=90.0))
    assert count(ready.database, TrainingSet) == 1 and count(ready.database, Job) == 1
    assert [line.sets for line in ready.trainer.only_counted(day_of(now()))] == [1]


def test_what_was_only_counted_is_never_kept_later(ready: Studio) -> None:
    """The clip was not kept then, and whoever hands it over again must not get round the answer."""
    one = found(card=2)
    assert keep(ready, one).why == "not-asked"
    ready.odo.deny_pain(ready.odo.actor.id)
    assert keep(ready, one).why == "not-asked" and nothing_kept(ready)


def test_pain_told_while_the_clip_is_copied_drops_it_again(
    ready: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = ready.files.keep

    def keep_and_tell(source: object) -> str:
        address = whole(source)  # type: ignore[arg-type]
        ready.ilse.tell_pain(ready.ilse.actor.id, "hip")
        return address

    monkeypatch.setattr(ready.files, "keep", keep_and_tell)
    assert keep(ready, found()).why == "pain"
    assert not list(ready.files.addresses())


def test_nothing_is_written_down_where_the_clip_cannot_be_kept(
    ready: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(source: object) -> str:
        raise UsageError("The disk is full.")

    with monkeypatch.context() as broken:
        broken.setattr(ready.files, "keep", full)
        with pytest.raises(UsageError):
            keep(ready, found())
    assert keep(ready, found()).set_id is not None, "handed over again, it is kept"


def test_a_key_tells_nothing_of_recording_or_time() -> None:
    assert key_of("a" * 64, 60.0) != key_of("a" * 64, 61.0) != key_of("b" * 64, 61.0)
    assert len(key_of("a" * 64, 60.0)) == 64 and "aaa" not in key_of("a" * 64, 60.0)


@pytest.fixture
def auckland() -> Iterator[None]:
    before = os.environ.get("TZ")
    os.environ["TZ"] = "Pacific/Auckland"
    time.tzset()
    yield
    os.environ.pop("TZ") if before is None else os.environ.__setitem__("TZ", before)
    time.tzset()


def test_an_answer_counts_until_midnight_where_the_studio_is(ready: Studio, auckland: None) -> None:
    """08:00 to 17:00 of one day there is two days by UTC."""
    morning, evening = datetime(2026, 3, 1, 19, tzinfo=UTC), datetime(2026, 3, 2, 4, tzinfo=UTC)
    with ready.database.write() as session:
        session.scalars(select(NoPain)).one().at = morning
        ilse = ready.ilse.actor.id
        assert denied(session, ilse, day_of(evening))
        assert not denied(session, ilse, day_of(evening + timedelta(hours=8)))


def test_a_stopped_member_cannot_say_that_nothing_hurts(ready: Studio) -> None:
    ilse = ready.ilse.actor.id
    ready.ilse.tell_pain(ilse, "hip")
    assert not ready.ilse.denies_pain(ilse)
    with pytest.raises(UsageError, match="talk to your trainer"):
        ready.ilse.deny_pain(ilse)


def test_an_unknown_machine_is_refused(ready: Studio) -> None:
    with pytest.raises(UsageError, match="machine"):
        keep(ready, found(exercise="rowing"))
