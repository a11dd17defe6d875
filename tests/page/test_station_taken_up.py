"""A page that is killed while a station's set is counted: the next one takes the film up."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import replace
from queue import Queue
from threading import Lock
from types import SimpleNamespace
from typing import Any, ClassVar

import pytest

from app.page import station, station_sets
from app.store.arriving import STATION_WAITS_S, Arriving, at_stations
from app.store.found_tables import FoundSet
from app.store.models import Job, TrainingSet
from tests.page.station_phone import Phone, begun_with, card, nothing_lies_there, phone, rows

__all__ = ["card", "phone"]  # fixtures
Killed = Callable[[str], str]


class _Never:
    """A thread that dies with its process before it does anything. begun: what was asked of such threads."""

    begun: ClassVar[list[tuple[Any, ...]]] = []

    def __init__(self, args: tuple[Any, ...], **_: Any):
        self.start = lambda: self.begun.append(args)


@pytest.fixture
def killed(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> Killed:
    """Send a set to a page that is killed before it has counted it; where the next one is asked for it."""

    def film(shown: str) -> str:
        _Never.begun.clear()
        with monkeypatch.context() as patch:
            patch.setattr(station_sets, "threading", SimpleNamespace(Thread=_Never, Lock=Lock))
            path = phone.film(shown)
            phone.ask("HEAD", path.replace("/set/", "/sending/"), tus_resumable="1.0.0")
            assert len(_Never.begun) == 1, "however often it is asked for"
            assert phone.result(path) == {"state": "checking"} and phone.counted == []
        _new_process()
        return path

    return film


def _new_process() -> None:
    station_sets.films.cache_clear()
    station_sets.seats.cache_clear()


def _agreed(phone: Phone) -> str:
    """A card that was shown, whose owner agreed and answered No."""
    (number,) = phone.studio.trainer.give_cards([phone.studio.ilse.actor.id])
    shown = str(phone.show(number)["shown"])
    phone.answer(shown, pain=False)
    return shown


def test_a_set_without_a_card_is_counted_and_shown_and_its_film_goes(phone: Phone, killed: Killed) -> None:
    path = killed("")
    station_sets.take_up(phone.studio)
    assert phone.result(path)["count"] == 8 and phone.counted == [b"a film"]
    assert (rows(phone.studio, TrainingSet), rows(phone.studio, FoundSet)) == (0, 1)
    assert nothing_lies_there(phone.studio)


def test_a_members_set_is_kept_once_and_counted_once(phone: Phone, killed: Killed) -> None:
    path = killed(_agreed(phone))
    for _ in range(2):
        station_sets.take_up(phone.studio)
    phone.ask("HEAD", path.replace("/set/", "/sending/"), tus_resumable="1.0.0")
    (row,) = phone.studio.ilse.sets(phone.studio.ilse.actor.id)
    assert row.clip is not None and phone.counted == [b"a film"]
    said = phone.result(path)
    assert (said["count"], said["why"], said["more"]) == (8, "", True)
    assert not list(at_stations(phone.studio.files.folder).folder.glob("*/clip"))


def test_a_page_killed_between_keeping_a_set_and_noting_it_keeps_it_once(
    phone: Phone, killed: Killed, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = killed(_agreed(phone))
    with monkeypatch.context() as patch:
        patch.setattr(Arriving, "close", lambda *_, **__: None)
        station_sets.take_up(phone.studio)
    assert (rows(phone.studio, TrainingSet), rows(phone.studio, Job)) == (1, 1)
    assert phone.result(path) == {"state": "checking"}
    _new_process()
    station_sets.take_up(phone.studio)
    assert [rows(phone.studio, table) for table in (TrainingSet, Job, FoundSet)] == [1, 1, 1]
    assert phone.result(path)["count"] == 8


def test_what_came_of_a_set_outlives_the_page(phone: Phone) -> None:
    path = phone.film(_agreed(phone))
    before = phone.result(path)
    _new_process()
    station_sets.take_up(phone.studio)
    assert phone.result(path) == before and len(phone.counted) == 1


def test_a_card_that_was_shown_before_the_page_was_killed_names_the_set_after_it(phone: Phone) -> None:
    shown = _agreed(phone)
    _new_process()
    assert phone.result(phone.film(shown))["why"] == ""
    assert len(phone.studio.ilse.sets(phone.studio.ilse.actor.id)) == 1


def test_pain_told_while_the_page_was_away_keeps_nothing(phone: Phone, killed: Killed) -> None:
    path = killed(_agreed(phone))
    phone.studio.ilse.tell_pain(phone.studio.ilse.actor.id, "knee")
    before = rows(phone.studio, TrainingSet)
    station_sets.take_up(phone.studio)
    assert "see the trainer" in phone.result(path)["why"]
    assert rows(phone.studio, TrainingSet) == before and nothing_lies_there(phone.studio)


def test_a_film_that_has_lain_there_for_long_goes_uncounted(phone: Phone, killed: Killed) -> None:
    path = killed(_agreed(phone))
    (one,) = at_stations(phone.studio.files.folder).folder.iterdir()
    long_ago = time.time() - STATION_WAITS_S - 1
    for file in one.iterdir():
        os.utime(file, (long_ago, long_ago))
    station_sets.take_up(phone.studio)
    assert phone.counted == [] and not one.exists()
    assert phone.ask("GET", path)[0] == 404


def test_the_film_of_a_station_that_was_ended_meanwhile_goes_uncounted(phone: Phone, killed: Killed) -> None:
    killed(_agreed(phone))
    (one,) = phone.studio.trainer.stations()
    phone.studio.trainer.end_station(one.key)
    station_sets.take_up(phone.studio)
    assert phone.counted == [] and nothing_lies_there(phone.studio)
    assert not list(at_stations(phone.studio.files.folder).folder.iterdir())


def test_a_film_that_is_not_all_here_waits_for_its_phone(phone: Phone) -> None:
    assert phone.ask("POST", "/station/sending", **begun_with("{}", 9))[0] == 201
    station_sets.take_up(phone.studio)
    assert phone.counted == []
    assert len(list(at_stations(phone.studio.files.folder).folder.glob("*/clip"))) == 1


def test_the_page_takes_up_what_was_left_as_soon_as_it_starts(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    import streamlit

    from app import serve
    from app.page import studio

    store, taken = replace(station.this_studio(), door="link"), Queue[Any]()
    monkeypatch.setattr(studio, "this_studio", lambda: store)
    monkeypatch.setattr(station_sets, "take_up", taken.put)
    monkeypatch.setattr(streamlit, "App", lambda *_, **__: SimpleNamespace(run=lambda config: None))
    serve.serve("127.0.0.1", 1)
    assert taken.get(timeout=60) is store
