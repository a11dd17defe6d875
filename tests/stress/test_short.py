"""A short run of every fault script, most of them in make test-all; ``make stress`` runs them at length."""

from __future__ import annotations

import io
import random
from pathlib import Path

import pytest

from app.store.access import Access, NewSet
from app.store.database import StoreTrouble, migrate, open_database
from app.store.rules import Actor
from tests.store.conftest import Studio
from tests.store.made import DAY
from tests.store.server import postgres_bin, server
from tests.stress import faults, kills
from tests.stress.corpus import Odd, corpus
from tests.stress.inputs import Tried, try_inputs
from tests.stress.real_page import try_page
from tests.stress.soak import soak

doors = pytest.importorskip("tests.stress.doors", reason="streamlit is not installed: make setup")
#: Of the hand-made inputs every so many-th is tried here; all of them in make stress.
EVERY = 25


@pytest.mark.long
def test_every_odd_input_is_judged_or_refused_in_one_sentence() -> None:
    tried = try_inputs(list(corpus(500))[::EVERY])
    assert (
        tried.bad == {} and tried.judged and tried.refused and tried.inputs + tried.not_made == 500 // EVERY
    )


def _unforeseen(folder: Path) -> Path:
    return folder / "clip\0.mp4"


def test_the_script_sees_an_input_that_breaks_the_promise(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("tests.stress.inputs._one_sentence", lambda said, folder: False)
    assert list(try_inputs([Odd("nul in its name", _unforeseen)]).bad) == ["nul in its name"]
    assert Tried(bad={"a": "x"}).crashes == 1


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.long)])
def test_what_was_acknowledged_survives_kill_9(
    tmp_path: Path, kind: str, request: pytest.FixtureRequest
) -> None:
    url = f"sqlite:///{tmp_path / 'plumbset.db'}"
    if kind == "postgresql":
        url = faults.new_database(request.getfixturevalue("postgres"), "killed")
    survived = kills.kill_many(kills.prepare(url, tmp_path), 8, random.Random(5))
    assert survived.wrong == [] and survived.lost == 0 and survived.kills


def test_the_script_sees_what_is_lost(tmp_path: Path) -> None:
    place = kills.prepare(f"sqlite:///{tmp_path / 'plumbset.db'}", tmp_path)
    place.acks += [("clip", 1, "0" * 64), ("note", 1, "words"), ("pain", 1, "knee"), ("card", 1, 1)]
    survived = kills.Survived()
    kills._look(place, survived)
    assert survived.lost == 4


@pytest.mark.parametrize("failure", [StoreTrouble("The disk is full."), RuntimeError("a mistake of ours")])
def test_a_write_that_fails_for_good_is_a_sentence_and_not_for_ever(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: Exception
) -> None:
    def fails(*_: object) -> None:
        raise failure

    place = kills.prepare(f"sqlite:///{tmp_path / 'plumbset.db'}", tmp_path)
    database = open_database(place.url)
    Access(database, place.files(), Actor(1, "Runa", "trainer")).add_set(
        NewSet(2, "leg-extension", DAY), io.BytesIO(b"clip")
    )
    database.close()
    monkeypatch.setattr("app.jobs.worker.finish", fails)
    monkeypatch.setattr(kills, "PATIENCE_S", 0.0)
    assert kills._finish(place) == ["set 1 was tried 3 times and does not end"]


@pytest.mark.long
def test_what_was_acknowledged_survives_a_restart_of_the_server(tmp_path: Path) -> None:
    tools = postgres_bin()
    if tools is None:
        pytest.skip("no PostgreSQL here: apt-get install postgresql")
    with server(tools, sync=True) as running:
        place = kills.prepare(faults.new_database(running.base, "restarted"), tmp_path)
        survived = faults.restart_many(place, running.restart, 2, random.Random(5))
    assert survived.wrong == [] and survived.lost == 0 and survived.acknowledged


@pytest.mark.long
def test_the_real_page_outlives_odd_clips_and_comes_back_after_kill_9(tmp_path: Path) -> None:
    paged = try_page(tmp_path, list(corpus(40))[8:14], 1, random.Random(5))
    assert (paged.wrong, paged.deaths, paged.kills) == ([], 0, 1)
    assert paged.clips and paged.judged + paged.refused == paged.clips


@pytest.mark.long
def test_jobs_end_one_way_or_the_other_and_crashes_are_told(tmp_path: Path) -> None:
    soaked = soak(f"sqlite:///{tmp_path / 'plumbset.db'}", tmp_path, 10, random.Random(5))
    assert (soaked.not_ended, soaked.crashed) == (0, 1)


def test_nobody_gets_at_what_is_not_theirs(tmp_path: Path) -> None:
    database = open_database(f"sqlite:///{tmp_path / 'plumbset.db'}")
    migrate(database)
    studio, rng = Studio(database, tmp_path / "files"), random.Random(5)
    tried = [
        doors.try_store(studio, 150, rng),
        doors.try_addresses(doors.asker(studio, tmp_path), studio, 50, rng),
        doors.try_sessions(studio, 20, rng),
        doors.try_uploads(studio, 20, rng),
        doors.try_stations(doors.asker(studio, tmp_path), studio, 20, rng),
    ]
    database.close()
    assert [t.let_in for t in tried] == [[]] * 5 and sum(t.tried for t in tried) > 250
