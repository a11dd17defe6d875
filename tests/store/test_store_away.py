"""A store of clips at a URL that fails in the middle: a sentence, another try where safe, nothing lost."""

from __future__ import annotations

import io
import os
import uuid
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from app.jobs import queue
from app.jobs.worker import run_with
from app.store import remote
from app.store.access import Access, NewSet
from app.store.erasing import erase, erased
from app.store.models import TrainingSet, now
from app.store.remote import SILENT, RemoteFiles
from app.store.retention import tidy
from app.store.verify import verify
from shared.errors import InternalError, PlumbsetError, UsageError
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

pytest.importorskip("fsspec", reason="fsspec is not installed: make setup")
from tests.store.failing import FailingStore

TRIES = 1 + len(remote.PAUSES_S)


@pytest.fixture
def pauses(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    waited: list[float] = []
    monkeypatch.setattr(remote, "_wait", waited.append)
    return waited


@pytest.fixture
def away(studio: Studio, tmp_path: Path, pauses: list[float]) -> Iterator[Studio]:
    """The studio with its clips at a URL."""
    FailingStore.fail()
    studio.files = RemoteFiles(f"failing:///{uuid.uuid4().hex}", tmp_path / "cache")
    for name, access in studio.all.items():
        setattr(studio, name, Access(studio.database, studio.files, access.actor))
    yield studio
    FailingStore.fail()


def _empty_cache(studio: Studio) -> None:
    for path in studio.files.folder.glob("*/*"):
        path.unlink()


def _send(studio: Studio, clip: bytes) -> int:
    return studio.ilse.add_set(NewSet(studio.ilse.actor.id, "leg-curl", DAY), io.BytesIO(clip), "a.mov")[0]


def test_a_moment_of_silence_is_not_noticed(away: Studio, pauses: list[float]) -> None:
    FailingStore.fail(*[True] * (TRIES - 1))
    set_id = _send(away, b"the clip")
    assert pauses == list(remote.PAUSES_S)
    _empty_cache(away)
    FailingStore.fail(*[True] * (TRIES - 1))
    assert away.files.path(away.ilse.set(set_id).clip or "").read_bytes() == b"the clip"


def test_an_upload_is_acknowledged_whole_or_not_at_all_at_whatever_step_the_store_goes_away(
    away: Studio,
) -> None:
    FailingStore.fail()
    _send(away, b"to count the steps")
    refused = 0
    for step in range(FailingStore.steps + 1):
        clip = f"clip {step}".encode()
        FailingStore.fail(*[False] * step, afterwards=True)
        before = len(away.ilse.sets(away.ilse.actor.id))
        try:
            _send(away, clip)
        except UsageError as error:
            refused += 1
            assert "could not be kept" in str(error) and "bucket" not in str(error)
            assert len(away.ilse.sets(away.ilse.actor.id)) == before
        FailingStore.fail()
        set_id = _send(away, clip)
        _empty_cache(away)
        assert away.files.path(away.ilse.set(set_id).clip or "").read_bytes() == clip
    assert refused, "the store was never away in time"
    assert verify(away.database, away.files).problems == ()


def test_a_clip_that_cannot_be_fetched_is_kept_and_checked_later(away: Studio) -> None:
    set_id = _send(away, b"the clip")
    _empty_cache(away)

    def reads(job: queue.Claimed, files: Any, *_: Any) -> queue.Outcome:
        assert files.path(job.clip).read_bytes() == b"the clip"
        return queue.Outcome(report())

    FailingStore.fail(afterwards=True)
    job = queue.claim(away.database)
    assert job is not None
    run_with(away.database, away.files, job, reads)
    assert away.ilse.told(set_id).problems == [SILENT] and not list(away.files.folder.glob(".part-*"))
    FailingStore.fail()
    away.trainer.try_again(set_id)
    job = queue.claim(away.database)
    assert job is not None
    run_with(away.database, away.files, job, reads)
    assert away.ilse.set(set_id).status in ("checked", "unfit")


def test_a_member_counts_as_erased_only_when_their_files_are_gone(away: Studio) -> None:
    new_set(away.ilse)
    check(away.database, away.files)
    FailingStore.fail()
    list(away.files.addresses())
    steps = 0
    while True:
        FailingStore.fail(*[False] * steps, afterwards=True)
        try:
            erase(away.database, away.files, away.ilse.actor.id)
        except InternalError as error:
            assert str(error) == SILENT and not erased(away.trainer.person(away.ilse.actor.id))
            steps += 1
        else:
            break
    FailingStore.fail()
    assert steps > 3 and list(away.files.addresses()) == []
    assert verify(away.database, away.files).problems == ()


def test_a_clip_past_its_time_goes_when_the_store_is_back(away: Studio) -> None:
    set_id = new_set(away.ilse)
    check(away.database, away.files)
    with away.database.write() as session:
        for row in session.scalars(select(TrainingSet)):
            row.uploaded_at = now() - timedelta(days=91)
    clip = away.ilse.set(set_id).clip or ""
    FailingStore.fail(afterwards=True)
    with pytest.raises(InternalError, match="does not answer"):
        tidy(away.database, away.files, 90)
    FailingStore.fail()
    assert away.files.there(clip)
    tidy(away.database, away.files, 90)
    assert not away.files.there(clip) and verify(away.database, away.files).problems == ()


def test_whatever_is_asked_of_a_store_that_is_away_is_one_sentence(away: Studio) -> None:
    address = away.files.keep(io.BytesIO(b"x"))
    FailingStore.fail(afterwards=True)
    for ask in (away.files.there, away.files.drop, lambda a: list(away.files.addresses())):
        with pytest.raises(PlumbsetError, match="does not answer"):
            ask(address)
    _empty_cache(away)
    with pytest.raises(PlumbsetError, match="does not answer"):
        away.files.path(address)


def test_copies_on_other_machines_of_what_was_erased_go_with_their_next_tidying(
    away: Studio, tmp_path: Path
) -> None:
    there = RemoteFiles(away.files._url, tmp_path / "another machine")  # type: ignore[attr-defined]
    hers, his = (a.set(new_set(a, clip=c)).clip or "" for a, c in ((away.ilse, b"hers"), (away.odo, b"his")))
    copies = [there.path(hers), there.path(his)]
    erase(away.database, away.files, away.ilse.actor.id)
    tidy(away.database, there, None)
    assert [c.exists() for c in copies] == [True, True], "one that was just made may be on its way"
    for copy in copies:
        os.utime(copy, (0, 0))
    tidy(away.database, there, None)
    assert [c.exists() for c in copies] == [False, True]
