"""What becomes of a set that a station filmed."""

from __future__ import annotations

import os
import time
from datetime import timedelta
from typing import Any

import pytest

from app.jobs.counting import LIMITS, Counting
from app.page import station_sets, tus
from app.store.arriving import STATION_WAITS_S, at_stations
from app.store.database import StoreTrouble
from app.store.found_tables import FoundSet
from app.store.models import TrainingSet, now
from app.store.retention import tidy
from shared.errors import InputError, UsageError
from tests.page.station_phone import (
    MACHINE,
    Phone,
    begun_with,
    card,
    nothing_lies_there,
    phone,
    rows,
)
from tests.store.made import check, report

__all__ = ["card", "phone"]  # fixtures

# --- sets ---


def test_without_a_card_a_set_is_counted_and_its_film_deleted(phone: Phone) -> None:
    path = phone.film()
    assert phone.counted == [b"a film"] and nothing_lies_there(phone.studio)
    said = phone.result(path)
    assert (said["state"], said["count"], said["tempo"]) == ("counted", 8, "about 2 s up and 3 s down")
    assert "Only counted" in said["why"] and not said["more"] and not said["cue"]
    assert (rows(phone.studio, TrainingSet), rows(phone.studio, FoundSet)) == (0, 1)


def test_with_a_card_and_a_no_to_pain_it_waits_under_its_members_name(phone: Phone, card: int) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    said = phone.result(phone.film(shown))
    (row,) = phone.studio.ilse.sets(phone.studio.ilse.actor.id)
    assert (row.exercise, row.status, row.clip is not None) == (MACHINE, "checking", True)
    assert said["count"] == 8 and said["why"] == "" and said["more"]
    assert not list(at_stations(phone.studio.files.folder).folder.glob("*/clip"))


def test_a_card_without_an_answer_to_pain_is_only_counted(phone: Phone, card: int) -> None:
    said = phone.result(phone.film(phone.show(card)["shown"]))
    assert "that nothing hurts" in said["why"] and rows(phone.studio, TrainingSet) == 0
    assert nothing_lies_there(phone.studio)


def test_pain_told_between_card_and_set_keeps_nothing(phone: Phone, card: int) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    ilse = phone.studio.ilse
    ilse.tell_pain(ilse.actor.id, "knee")
    before = rows(phone.studio, TrainingSet)
    assert "see the trainer" in phone.result(phone.film(shown))["why"]
    assert rows(phone.studio, TrainingSet) == before and nothing_lies_there(phone.studio)


def test_a_station_cannot_name_a_card_that_it_was_not_shown(phone: Phone, card: int) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    phone.secret = phone.studio.trainer.make_station(MACHINE)
    for word in (shown, str(card), "guessed"):
        assert "Only counted" in phone.result(phone.film(word))["why"]
    assert rows(phone.studio, TrainingSet) == 0


@pytest.mark.parametrize(
    ("counting", "why"),
    [
        (Counting(2), station_sets.NO_SET),
        (Counting(None, why="The picture is too dark."), "The picture is too dark."),
        (InputError("This clip cannot be read."), "This clip cannot be read."),
    ],
)
def test_what_is_no_set_leaves_nothing_not_even_a_count(
    phone: Phone, card: int, counting: Counting | Exception, why: str
) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    phone.counting = counting
    path = phone.film(shown)
    assert phone.result(path) == {"state": "none", "why": why}
    assert (rows(phone.studio, TrainingSet), rows(phone.studio, FoundSet)) == (0, 0)
    assert nothing_lies_there(phone.studio)


def _busy(*_: Any) -> Any:
    raise StoreTrouble("Too much is being written at once.")


def _full(*_: Any) -> Any:
    raise UsageError("The file could not be kept; free some space, try again.")


def _broken(*_: Any) -> Any:
    raise RuntimeError("a name")


@pytest.mark.parametrize(
    ("at", "wrong"),
    [("keep_found", _busy), ("keep_found", _full), ("keep_found", _broken), ("counted", _broken),
     ("counted", _busy)],
)  # fmt: skip
def test_what_fails_on_our_side_is_tried_again_and_costs_no_set(
    phone: Phone, card: int, monkeypatch: pytest.MonkeyPatch, at: str, wrong: Any
) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    with monkeypatch.context() as patch:
        patch.setattr(station_sets, at, wrong)
        path = phone.film(shown)
        assert phone.result(path) == {"state": "checking"} and rows(phone.studio, TrainingSet) == 0
    phone.wait()
    assert phone.result(path)["count"] == 8 and phone.later == []
    (row,) = phone.studio.ilse.sets(phone.studio.ilse.actor.id)
    assert row.clip is not None and rows(phone.studio, FoundSet) == 1
    assert not list(at_stations(phone.studio.files.folder).folder.glob("*/clip"))


def test_what_goes_on_failing_is_left_for_the_next_page_within_its_quarter_of_an_hour(
    phone: Phone, card: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    with monkeypatch.context() as patch:
        patch.setattr(station_sets, "keep_found", _busy)
        path = phone.film(shown)
        for _ in range(station_sets.TRIES):
            phone.wait()
    assert len(phone.counted) == station_sets.TRIES and phone.later == []
    station_sets.films.cache_clear()
    station_sets.take_up(phone.studio)
    assert phone.result(path)["count"] == 8 and rows(phone.studio, TrainingSet) == 1
    assert station_sets.TRIES * (LIMITS.wall_s + station_sets.AGAIN_S) < STATION_WAITS_S


def test_a_film_that_was_dropped_before_it_is_tried_again_is_not_kept(
    phone: Phone, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as patch:
        patch.setattr(station_sets, "keep_found", _busy)
        path = phone.film()
    at_stations(phone.studio.files.folder).drop(path.rpartition("/")[2])
    phone.wait()
    assert phone.ask("GET", path)[0] == 404 and rows(phone.studio, FoundSet) == 0
    assert nothing_lies_there(phone.studio)


def test_whoever_missed_the_answer_asks_again_and_the_set_is_counted_once(phone: Phone) -> None:
    path = phone.film().replace("/set/", "/sending/")
    status, headers, _ = phone.ask("HEAD", path, tus_resumable="1.0.0")
    assert status == 204 and headers["upload-offset"] == "6"
    assert phone.counted == [b"a film"] and rows(phone.studio, FoundSet) == 1


def test_a_cue_is_shown_only_where_the_studio_shows_at_once(phone: Phone, card: int) -> None:
    shown = phone.show(card)["shown"]
    phone.answer(shown, pain=False)
    path = phone.film(shown)
    check(phone.studio.database, phone.studio.files, report())
    said = phone.result(path)
    assert said["cue"] and said["count"] == 12 and not said["more"], "the careful look has the last word"
    phone.studio.trainer.hold_back(True)
    assert phone.result(path)["cue"] == ""


def test_a_set_is_read_by_the_station_that_filmed_it_alone(phone: Phone) -> None:
    path = phone.film()
    other = phone.studio.trainer.make_station(MACHINE)
    assert phone.ask("GET", path, secret=other)[0] == 404
    assert phone.ask("GET", "/station/set/" + "0" * 32)[0] == 404


def test_what_came_of_a_set_is_forgotten(phone: Phone, monkeypatch: pytest.MonkeyPatch) -> None:
    path = phone.film()
    later = now() + station_sets.ASKED + timedelta(seconds=1)
    monkeypatch.setattr(station_sets, "now", lambda: later)
    assert phone.result(path) == {"state": "none", "why": station_sets.FORGOTTEN}


def test_a_film_that_nobody_goes_on_with_is_gone_soon(phone: Phone) -> None:
    studio, clips = phone.studio, at_stations(phone.studio.files.folder)
    begun = begun_with("{}", 9)
    assert phone.ask("POST", "/station/sending", **begun)[0] == 201
    (one,) = clips.folder.iterdir()
    tidy(studio.database, studio.files, None)
    assert one.exists()
    long_ago = time.time() - STATION_WAITS_S - 1
    for path in one.iterdir():
        os.utime(path, (long_ago, long_ago))
    tidy(studio.database, studio.files, None)
    assert not one.exists()


def test_what_a_station_sends_in_a_day_is_bounded(phone: Phone) -> None:
    begun = begun_with("{}", 390000000)
    said = []
    for _ in range(11):
        status, headers, words = phone.ask("POST", "/station/sending", **begun)
        said.append(status)
        if status == 201:
            at_stations(phone.studio.files.folder).drop(headers["location"].rsplit("/", 1)[1])
    assert said == [201] * 10 + [422] and "in a day" in words


def test_words_with_a_film_that_cannot_be_read_are_refused(phone: Phone) -> None:
    begun = begun_with('{"person": 2}', 9)
    assert phone.ask("POST", "/station/sending", **begun)[2] == tus.NOT_READ
