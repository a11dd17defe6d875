"""A batch beside a studio's page: members' clips are begun first, and nothing is waited for in vain."""

from __future__ import annotations

import os
import sys
from datetime import timedelta
from pathlib import Path

import pytest

from app.jobs import pools, queue
from app.jobs.behind import members_first
from app.jobs.pools import NICE, LocalPool
from app.store.models import Job, now
from app.store.settings import StoreSettings
from tests.store.conftest import Studio
from tests.store.made import new_set


def test_members_clips_wait_only_while_somebody_works_on_them(studio: Studio) -> None:
    assert not queue.clips_wait(studio.database)
    new_set(studio.ilse)
    assert not queue.clips_wait(studio.database), "nobody works on the queue"
    assert queue.claim(studio.database) is not None
    assert not queue.clips_wait(studio.database), "all that there is is being checked"
    new_set(studio.odo, b"odo")
    assert queue.clips_wait(studio.database)
    with studio.database.write() as session:
        for job in session.query(Job).where(Job.state == "running"):
            job.lease_until = now() - timedelta(seconds=1)
    assert not queue.clips_wait(studio.database), "the machine that worked on the queue is gone"


def test_a_batch_begins_no_clip_before_members_have_had_their_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pools, "HELD_S", 0.0)
    done: list[str] = []
    waiting = ["ilse", "odo"]

    def held() -> bool:
        if waiting:
            done.append(waiting.pop(0))
            return True
        return False

    with LocalPool(1, held) as pool:
        pool.submit(done.append, "batch").result()
    assert done == ["ilse", "odo", "batch"]


def test_a_batch_that_is_stopped_waits_for_nobody() -> None:
    with LocalPool(1, lambda: True) as pool:
        held = pool.submit(lambda: "begun")
        pool.shutdown(wait=False)
    assert held.cancelled() or held.result() == "begun"


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a process has one niceness")
def test_a_batch_gives_way_on_a_busy_core_and_nothing_else_does() -> None:
    before = os.nice(0)
    with LocalPool(1) as pool:
        assert pool.submit(os.nice, 0).result() == min(19, before + NICE)
    assert os.nice(0) == before


def test_where_there_is_no_store_nobody_waits(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'plumbset.db'}"
    with members_first(StoreSettings(url, tmp_path)) as wait:
        assert not wait()
    assert not list(tmp_path.iterdir()), "a batch makes no store"
    (tmp_path / "plumbset.db").touch()
    with members_first(StoreSettings(url, tmp_path)) as wait:
        assert not wait(), "a store without tables"
