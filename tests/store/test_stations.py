"""A station's link: it opens a station, nothing else, and nothing at all once it was ended."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.store import signin
from app.store.access import Access
from app.store.models import Pass, now
from app.store.rules import Actor
from app.store.signin import hashed
from app.store.stations import Station, station_of
from app.store.throttle import NotLetIn
from shared.errors import UsageError
from tests.store.conftest import Studio


def _made(studio: Studio, exercise: str = "leg-curl") -> tuple[str, Station]:
    secret = studio.trainer.make_station(exercise)
    station = station_of(studio.database, secret)
    assert station is not None
    return secret, station


def test_it_names_its_machine_and_who_made_it(studio: Studio) -> None:
    _, station = _made(studio)
    assert (station.exercise, station.by) == ("leg-curl", "Runa")
    _, other = _made(studio, "leg-extension")
    assert {one.exercise for one in studio.trainer.stations()} == {"leg-curl", "leg-extension"}
    assert station.owner < 0 and station.owner != other.owner


def test_it_lets_nobody_in(studio: Studio) -> None:
    secret, _ = _made(studio)
    assert signin.who(studio.database, secret) is None
    assert signin.belongs_to(studio.database, secret) is None
    with pytest.raises(NotLetIn):
        signin.open_link(studio.database, secret)


@pytest.mark.parametrize("kind", ["session", "link", "start"])
def test_nothing_else_that_lets_people_in_is_a_station(studio: Studio, kind: str) -> None:
    with studio.database.write() as session:
        secret = signin.make_pass(session, kind, studio.trainer.actor.id, 1)
    assert station_of(studio.database, secret) is None


def test_one_that_was_ended_is_none_any_more(studio: Studio) -> None:
    secret, station = _made(studio)
    kept, _ = _made(studio)
    studio.trainer.end_station(station.key)
    assert station_of(studio.database, secret) is None
    assert station_of(studio.database, kept) is not None
    assert len(studio.trainer.stations()) == 1


def test_ending_a_station_ends_nothing_else(studio: Studio) -> None:
    with studio.database.write() as session:
        secret = signin.make_pass(session, "session", studio.ilse.actor.id, 1)
    studio.trainer.end_station(hashed(secret))
    assert signin.who(studio.database, secret) == studio.ilse.actor


def test_it_ends_with_the_trainer_who_made_it(studio: Studio) -> None:
    invited = studio.trainer.invite_trainer("Bero")
    signin.open_link(studio.database, invited)
    bero = next(line for line in studio.trainer.trainers() if line.name == "Bero")
    actor = Actor(bero.id, "Bero", "trainer")
    secret = Access(studio.database, studio.files, actor).make_station("leg-curl")
    assert station_of(studio.database, secret) is not None
    studio.trainer.let_go(bero.id)
    assert station_of(studio.database, secret) is None and studio.trainer.stations() == []


def test_one_whose_time_is_over_is_none_any_more(studio: Studio) -> None:
    secret, station = _made(studio)
    with studio.database.write() as session:
        session.get_one(Pass, station.key).expires_at = now() - timedelta(seconds=1)
    assert station_of(studio.database, secret) is None
    assert station_of(studio.database, None) is None and station_of(studio.database, "guessed") is None


def test_a_machine_that_nobody_knows_gets_no_station(studio: Studio) -> None:
    with pytest.raises(UsageError, match="not known"):
        studio.trainer.make_station("rowing")
    assert studio.trainer.stations() == []
