"""Jobs: taken once, taken up again when the worker died, ended once."""

from __future__ import annotations

import os
import select
import subprocess
import sys
from concurrent.futures import BrokenExecutor, Executor, Future
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from app.jobs import queue
from app.jobs.runner import Runner
from app.jobs.worker import OURS, check_clip, run_with
from app.store.models import Job, now
from app.store.settings import StoreSettings
from shared.errors import ClipError
from tests.store.conftest import Studio
from tests.store.made import new_set, report


def _outlive_lease(studio: Studio) -> None:
    with studio.database.write() as session:
        for job in session.query(Job):
            job.lease_until = now() - timedelta(seconds=1)


def test_a_job_is_taken_once(studio: Studio) -> None:
    new_set(studio.ilse)
    assert queue.claim(studio.database) is not None
    assert queue.claim(studio.database) is None


def test_what_was_told_of_the_member_reaches_the_worker(studio: Studio) -> None:
    studio.trainer.save_member(studio.ilse.actor.id, "Ilse", 171.0)
    studio.trainer.save_card(studio.ilse.actor.id, "leg-extension", cleared=True)
    new_set(studio.ilse, side="left")
    job = queue.claim(studio.database)
    assert job is not None
    assert (job.height_cm, job.cleared, job.side, job.clip_name) == (171.0, True, "left", "tuesday.mov")


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


class _Breaks(Executor):
    """A pool whose process dies at the first job, and one that says what it was given."""

    given: list[int] = []  # noqa: RUF012

    def __init__(self, broken: bool):
        self.broken = broken

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        done: Future[Any] = Future()
        if self.broken:
            done.set_exception(BrokenExecutor())
        else:
            self.given.append(args[1].attempt)
            done.set_result(None)
        return done


def test_a_pool_that_died_is_replaced_and_its_job_handed_out_again(
    studio: Studio, tmp_path: Path, database: Any
) -> None:
    new_set(studio.ilse)
    pools = iter([_Breaks(True), _Breaks(False)])
    _Breaks.given.clear()
    url = database.engine.url.render_as_string(hide_password=False)
    runner = Runner(StoreSettings(url, tmp_path), make=lambda: next(pools))
    runner.step()
    runner.step()
    runner.close()
    assert _Breaks.given == [2]


@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="needs Linux to wait for a process of another")
def test_worker_processes_end_with_the_one_that_started_them() -> None:
    code = (
        "import os\nfrom app.jobs.runner import processes\n"
        "if __name__ == '__main__':\n"
        "    print(processes(1)().submit(os.getpid).result(), flush=True)\n    input()\n"
    )
    parent = subprocess.Popen(
        [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    worker = os.pidfd_open(int(parent.stdout.readline()))
    parent.kill()
    parent.communicate()
    gone, _, _ = select.select([worker], [], [], 60)
    os.close(worker)
    assert gone


def test_a_file_that_is_no_video_is_one_sentence_and_is_kept(studio: Studio) -> None:
    set_id = new_set(studio.ilse, clip=b"this is a letter, not a video")
    job = queue.claim(studio.database)
    assert job is not None
    run_with(studio.database, studio.files, job, check_clip)
    said = studio.ilse.told(set_id)
    assert said.state == "failed" and len(said.problems) == 1 and "tuesday.mov" in said.problems[0]
    assert studio.files.path(job.clip).read_bytes() == b"this is a letter, not a video"
