"""A checked set without a clip being read: the report made by hand goes through the real queue."""

from __future__ import annotations

import io
from datetime import date

from app.jobs import queue
from app.store.access import Access, NewSet
from app.store.database import Database
from app.store.files import Files
from shared.exercise import find_exercise
from shared.report import SetReport
from tests.unit.handmade import analysis

DAY = date(2026, 3, 2)


def report() -> SetReport:
    return analysis(exercise=find_exercise("leg-extension")).report


def new_set(
    access: Access,
    clip: bytes = b"clip",
    pain: bool = False,
    exercise: str = "leg-extension",
    **more: object,
) -> int:
    told = NewSet(access.actor.id, exercise, DAY, 30.0, pain_before=pain, **more)  # type: ignore[arg-type]
    set_id, known = access.add_set(told, io.BytesIO(clip), "tuesday.mov")
    assert not known
    return set_id


def check(database: Database, files: Files, said: SetReport | None = None) -> int:
    """Let the next job end with a report; returns its set."""
    job = queue.claim(database)
    assert job is not None
    kept = files.keep(io.BytesIO(b"drawn"))
    picture = files.keep(io.BytesIO(b"picture"))
    pictures = (("knee-lockout:4", picture), ("chest-drop:11", picture))
    signals = files.keep(io.BytesIO(b"time_s,knee_deg\n0,90\n"))
    moving = files.keep(io.BytesIO(b"{}"))
    outcome = queue.Outcome(
        said or report(), annotated=kept, page=kept, signals=signals, moving=moving, pictures=pictures
    )
    queue.finish(database, job, outcome)
    return job.set_id
