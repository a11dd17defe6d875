"""Clips of the page checked by a cluster: the same outcome, and whatever is lost is told."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from app.jobs import afar, runner
from app.jobs.afar import AFAR, LOST, check_by
from app.jobs.queue import Claimed, JobLost, Outcome
from app.jobs.runner import Runner
from app.store.database import migrate, open_database
from app.store.files import Files
from app.store.settings import StoreSettings, store_settings
from shared.errors import InputError, InternalError
from tests.store.made import report

JOB = Claimed(1, 1, 1, "0" * 64, "tuesday.mov", "leg-curl", None, None, False)


class _Never(Executor):
    """A cluster whose workers do not get to it."""

    def __init__(self) -> None:
        self.asked: list[Future[Any]] = []

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.asked.append(Future())
        return self.asked[-1]


def test_what_a_worker_found_comes_back_and_says_where_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found, said, told = Outcome(report()), [], threading.Event()

    def contained(job: Claimed, files: Files, folder: Path, say: Any) -> Outcome:
        assert told.wait(60) and job is JOB and folder.is_dir()
        return found

    monkeypatch.setattr(afar, "check_contained", contained)
    monkeypatch.setattr(afar, "BEAT_S", 0.01)
    with ThreadPoolExecutor(1) as pool:
        outcome = check_by(pool)(
            JOB, Files(tmp_path), tmp_path, lambda *step: (said.append(step), told.set())[1]
        )
    assert outcome is found and said[0] == (AFAR, 0.1)


def test_what_a_worker_refuses_keeps_its_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def contained(*_: Any) -> None:
        raise InputError("tuesday.mov is empty.")

    monkeypatch.setattr(afar, "check_contained", contained)
    with ThreadPoolExecutor(1) as pool, pytest.raises(InputError, match="is empty"):
        check_by(pool)(JOB, Files(tmp_path), tmp_path, lambda *_: None)


def test_a_machine_that_went_away_is_told(tmp_path: Path) -> None:
    never = _Never()
    with pytest.raises(InternalError) as told:
        check_by(never)(JOB, Files(tmp_path), tmp_path, lambda *_: (never.asked[0].cancel(), None)[1])
    assert str(told.value) == LOST


def test_a_job_that_went_to_someone_else_is_taken_back(tmp_path: Path) -> None:
    never = _Never()

    def lost(*_: Any) -> None:
        raise JobLost

    with pytest.raises(JobLost):
        check_by(never)(JOB, Files(tmp_path), tmp_path, lost)
    assert never.asked[0].cancelled()


def test_one_setting_has_the_page_use_a_cluster(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened: list[str] = []

    @contextmanager
    def pool(address: str, priority: int) -> Iterator[Executor]:
        opened.append(f"{address} {priority}")
        yield _Never()
        opened.append("closed")

    monkeypatch.setattr(runner, "cluster_pool", pool)
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    assert store_settings().scheduler is None
    monkeypatch.setenv("PLUMBSET_SCHEDULER", "tcp://studio:8786")
    settings = store_settings()
    database = open_database(settings.database_url)
    migrate(database)
    database.close()
    Runner(settings).close()
    assert opened == ["tcp://studio:8786 10", "closed"]
    Runner(StoreSettings(settings.database_url, settings.data)).close()
    assert len(opened) == 2
