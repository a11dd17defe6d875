"""Jobs: taken once, taken up again when the worker died, ended once."""

from __future__ import annotations

from concurrent.futures import wait
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from app.jobs import queue, worker
from app.jobs.contained import OURS
from app.jobs.runner import Runner
from app.jobs.worker import check_contained, run_with
from app.store.database import AWAY, StoreTrouble
from app.store.models import Job, now
from app.store.settings import StoreSettings
from shared.errors import ClipError
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report


def _outlive_lease(studio: Studio) -> None:
    with studio.database.write() as session:
        for job in session.query(Job):
            job.lease_until = now() - timedelta(seconds=1)


def test_a_job_is_taken_once(studio: Studio) -> None:
    new_set(studio.ilse)
    assert queue.claim(studio.database) is not None
    assert queue.claim(studio.database) is None


def test_what_was_told_of_the_member_reaches_the_worker(studio: Studio) -> None:
    studio.trainer.save_member(studio.ilse.actor.id, "Ilse", 171.0, beginner=True)
    studio.trainer.save_card(studio.ilse.actor.id, "leg-extension", cleared=True, seat="4")
    new_set(studio.ilse, side="left")
    job = queue.claim(studio.database)
    assert job is not None
    assert (job.height_cm, job.cleared, job.side, job.clip_name) == (171.0, True, "left", "tuesday.mov")
    assert job.beginner
    assert job.facts == (("Date", "Mon 2 March 2026"), ("Load", "30 kg"), ("Seat", "4"))
    new_set(studio.odo)
    other = queue.claim(studio.database)
    assert other is not None and not other.cleared and not other.beginner


def test_later_sets_are_checked_beside_the_approved_one(studio: Studio) -> None:
    first = new_set(studio.ilse, b"first")
    check(studio.database, studio.files)
    studio.trainer.release(first)
    new_set(studio.ilse, b"second")
    before = queue.claim(studio.database)
    assert before is not None and before.approved is None
    studio.trainer.make_reference(first)
    new_set(studio.ilse, b"third")
    job = queue.claim(studio.database)
    assert job is not None and job.approved is not None
    assert job.approved.report == report().to_json()
    assert job.approved.signals is not None
    assert studio.files.path(job.approved.signals).read_bytes().startswith(b"time_s")
    studio.trainer.try_again(first)
    again = queue.claim(studio.database)
    assert again is not None and (again.set_id, again.approved) == (first, None)
    new_set(studio.odo, b"odo")
    other = queue.claim(studio.database)
    assert other is not None and other.approved is None


def test_progress_is_there_for_whoever_looks(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None
    queue.beat(studio.database, job, "Following the set", 0.4)
    seen = studio.ilse.job(set_id)
    assert seen is not None and (seen.state, seen.step, seen.progress) == (
        "running",
        "Following the set",
        0.4,
    )


def test_a_job_whose_worker_died_is_taken_up_again_and_ended_once(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    dead = queue.claim(studio.database)
    _outlive_lease(studio)
    alive = queue.claim(studio.database)
    assert dead is not None and alive is not None and alive.attempt == 2
    with pytest.raises(queue.JobLost):
        queue.beat(studio.database, dead, "Following the set", 0.9)
    queue.finish(studio.database, alive, queue.Outcome(report()))
    for late in (dead, alive):
        with pytest.raises(queue.JobLost):
            queue.finish(studio.database, late, queue.Outcome(report()))
    assert studio.ilse.set(set_id).status == "checked"


def test_a_clip_that_kills_its_worker_again_and_again_is_given_up(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    for _ in range(queue.MOST_ATTEMPTS):
        assert queue.claim(studio.database) is not None
        _outlive_lease(studio)
    assert queue.claim(studio.database) is None
    assert studio.ilse.set(set_id).message == queue.GAVE_UP
    assert studio.trainer.waiting()[0].reason == "Could not be checked"


@pytest.mark.parametrize(
    ("error", "sentence"), [(ClipError("The clip is empty."), "The clip is empty."), (ValueError("x"), OURS)]
)
def test_whatever_goes_wrong_becomes_a_sentence_on_the_set(
    studio: Studio, error: Exception, sentence: str
) -> None:
    set_id = new_set(studio.ilse)
    job = queue.claim(studio.database)
    assert job is not None

    def check(*_: object) -> queue.Outcome:
        raise error

    run_with(studio.database, studio.files, job, check)
    assert studio.ilse.told(set_id).problems == [sentence]
    studio.trainer.try_again(set_id)
    assert queue.claim(studio.database) is not None


def _runner(studio: Studio, folder: Path, check: Any) -> Runner:
    url = studio.database.engine.url.render_as_string(hide_password=False)
    return Runner(StoreSettings(url, folder), check=check)


def _finished(runner: Runner) -> None:
    runner.step()
    wait(runner._busy)
    runner.step()


def test_a_job_whose_end_cannot_be_written_down_is_handed_out_again(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_id = new_set(studio.ilse)
    attempts = []

    def finish(*given: Any) -> None:
        attempts.append(given[1].attempt)
        if len(attempts) == 1:
            raise OSError
        queue.finish(*given)

    monkeypatch.setattr(worker, "finish", finish)
    runner = _runner(studio, tmp_path, lambda *_: queue.Outcome(report()))
    _finished(runner)
    _finished(runner)
    runner.close()
    assert attempts == [1, 2] and studio.ilse.set(set_id).status == "checked"


def test_the_end_of_a_job_waits_for_a_database_that_is_away(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    set_id = new_set(studio.ilse)
    away = iter([True, True, False])
    pauses: list[float] = []

    def finish(*given: Any) -> None:
        if next(away):
            raise StoreTrouble(AWAY)
        queue.finish(*given)

    monkeypatch.setattr(worker, "finish", finish)
    monkeypatch.setattr(worker, "_pause", pauses.append)
    runner = _runner(studio, tmp_path, lambda *_: queue.Outcome(report()))
    _finished(runner)
    runner.close()
    assert len(pauses) == 2 and studio.ilse.set(set_id).status == "checked"


def test_the_runner_outlasts_a_database_that_is_away(
    studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    set_id = new_set(studio.ilse)
    runner = _runner(studio, tmp_path, lambda *_: queue.Outcome(report()))
    away = iter([True, True, True, False])

    def claim(database: Any) -> Any:
        if next(away, False):
            raise StoreTrouble(AWAY)
        job = queue.claim(database)
        if job is None:
            runner.stop()
        return job

    monkeypatch.setattr("app.jobs.runner.claim", claim)
    monkeypatch.setattr("app.jobs.runner.LOOK_S", 0.01)
    runner.run()
    assert studio.ilse.set(set_id).status == "checked"
    assert caplog.messages == [f"The queue waits: {AWAY}"]


def test_a_lease_given_before_the_clock_was_set_back_is_over(studio: Studio) -> None:
    new_set(studio.ilse)
    assert queue.claim(studio.database) is not None
    with studio.database.write() as session:
        for job in session.query(Job):
            job.lease_until = now() + timedelta(hours=3)
    again = queue.claim(studio.database)
    assert again is not None and again.attempt == 2


def test_a_file_that_is_no_video_is_one_sentence_and_is_kept(studio: Studio) -> None:
    set_id = new_set(studio.ilse, clip=b"this is a letter, not a video")
    job = queue.claim(studio.database)
    assert job is not None
    run_with(studio.database, studio.files, job, check_contained)
    said = studio.ilse.told(set_id)
    assert said.state == "failed" and len(said.problems) == 1 and "tuesday.mov" in said.problems[0]
    assert studio.files.path(job.clip).read_bytes() == b"this is a letter, not a video"
