"""Many short jobs through the real runner and its contained processes, with its memory watched."""

from __future__ import annotations

import io
import os
import random
import time
from concurrent.futures import FIRST_COMPLETED, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import func, select

from app.jobs import queue
from app.jobs.contained import Say, resident_mb, run_contained
from app.jobs.held import LIMITS
from app.jobs.left import own
from app.jobs.runner import Runner
from app.jobs.worker import OUT
from app.jobs.worker import prepare as prepare_job
from app.store.access import Access, NewSet
from app.store.database import open_database
from app.store.files import Files
from app.store.models import Job, TrainingSet
from app.store.rules import Actor
from app.store.settings import StoreSettings
from shared.report import SetReport
from tests.store.made import DAY
from tests.stress.kills import prepare
from tests.stress.made_clips import base
from tests.stress.warm import warm
from vision.telling.files import PAGE

PRELOAD = [
    "tests.stress.soak",
    "tests.stress.inputs",
    "vision.pipeline",
    "vision.seeing.clip",
    "vision.telling.write",
]
#: Every so many-th clip makes its process crash.
CRASH_EVERY = 10


@dataclass
class Soaked:
    """jobs: ended; crashed: of these in a crash of their process; memory of the runner in MB."""

    jobs: int
    crashed: int
    not_ended: int
    start_mb: float
    end_mb: float
    seconds: float

    @property
    def growth_mb(self) -> float:
        """From after the first tenth of the jobs to the end."""
        return self.end_mb - self.start_mb


def judged_without_model(clip: Path, exercise: str, folder: Path, say: Say) -> SetReport:
    """What the worker does, with stick people for the landmark model; some clips crash on purpose."""
    import ctypes

    from shared.exercise import find_exercise
    from tests.stress.inputs import StickPose
    from vision.pipeline import analyse
    from vision.seeing.clip import open_clip
    from vision.telling.write import write_outputs

    if clip.name == "crash.mp4":
        os.close(2)
        ctypes.string_at(0)
    source = open_clip(clip)
    pose = StickPose()
    analysis = analyse(source, find_exercise(exercise), pose, progress=lambda s: say("Following", s))
    write_outputs(source, analysis, folder)
    return analysis.report


def contained(job: queue.Claimed, files: Files, folder: Path, say: Say) -> Any:
    """Each job in a process of its own, forked from a warm one."""
    given = (*prepare_job(job, files, folder), job.exercise, folder / OUT)
    report = run_contained(judged_without_model, given, say, SetReport, LIMITS, warm(PRELOAD))
    with own(folder / OUT, PAGE).open("rb") as stream:
        return queue.Outcome(report, page=files.keep(stream))


def soak(url: str, folder: Path, jobs: int, rng: random.Random) -> Soaked:
    """So many clips, told apart by a few bytes at their end, through the queue to their reports."""
    began = time.perf_counter()
    prepare(url, folder)
    database = open_database(url)
    access = Access(database, Files(folder / "files"), Actor(1, "Runa", "trainer"))
    runner = Runner(StoreSettings(url, folder), 2, contained)
    start_mb, sent = 0.0, 0
    while True:
        while sent < jobs and sent - ended(database) < 20:
            clip = base(0) + rng.randbytes(8)
            name = "crash.mp4" if sent % CRASH_EVERY == CRASH_EVERY - 1 else "a.mp4"
            access.add_set(NewSet(2, "leg-extension", DAY), io.BytesIO(clip), name)
            sent += 1
        runner.step()
        done = ended(database)
        if not start_mb and done >= jobs // 10:
            start_mb = resident_mb(os.getpid())
        if done >= jobs:
            break
        wait(runner._busy, timeout=0.2, return_when=FIRST_COMPLETED)
    end_mb = resident_mb(os.getpid())
    runner.close()
    with database.read() as session:
        crashes = select(func.count()).where(TrainingSet.message.contains("crash"))
        waiting = select(func.count()).where(Job.state.in_(("queued", "running")))
        crashed, not_ended = session.scalar(crashes) or 0, session.scalar(waiting) or 0
    database.close()
    return Soaked(jobs, crashed, not_ended, start_mb, end_mb, time.perf_counter() - began)


def ended(database: Any) -> int:
    """How many jobs are over."""
    with database.read() as session:
        return session.scalar(select(func.count()).where(Job.state.in_(("done", "failed")))) or 0
