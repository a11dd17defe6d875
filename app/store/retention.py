"""What is kept no longer: clips past their time, and what killed processes left."""

from __future__ import annotations

import shutil
import time
from datetime import timedelta
from pathlib import Path

from sqlalchemy import select

from app.store.arriving import arriving, at_stations
from app.store.belongings import drop_unreferenced, referenced
from app.store.database import Database
from app.store.files import Files
from app.store.models import TrainingSet, now
from app.store.signin import forget_over

#: Nothing that is being written takes as long as this, in s.
LEFT_OVER_S = 7200.0
#: So long it is made sure that a dropped clip is gone.
AGAIN = timedelta(days=7)


def tidy(database: Database, files: Files, keep_clips_days: int | None) -> int:
    """Drop clips past their time, leftovers, copies of what was dropped, and what lets nobody in any more.

    Returns how many clips went.
    """
    for path in leftovers(files):
        shutil.rmtree(path, ignore_errors=True) if path.is_dir() else path.unlink(missing_ok=True)
    arriving(files.folder).tidy()
    at_stations(files.folder).tidy()
    with database.read() as session:
        wanted = set(referenced(session))
    files.forget(wanted, LEFT_OVER_S)
    with database.write() as session:
        forget_over(session)
    return 0 if keep_clips_days is None else drop_clips(database, files, keep_clips_days)


def leftovers(files: Files) -> list[Path]:
    """Half-written files and work folders that nobody is writing any more."""
    found = []
    for path in (*files.folder.glob(".part-*"), *files.folder.glob(".work-*")):
        try:
            if time.time() - path.stat().st_mtime > LEFT_OVER_S:
                found.append(path)
        except OSError:
            continue
    return found


def drop_clips(database: Database, files: Files, days: int) -> int:
    """Drop the clips sent more than so many days ago, as they were sent; returns how many.

    Reports, numbers, pictures and the drawn clip with hidden heads stay. A clip that is being
    checked waits. The rows are changed first; files that a stop or a store that did not answer left
    behind go with one of the next runs.
    """
    old = now() - timedelta(days=days)
    query = select(TrainingSet).where(
        TrainingSet.clip.is_not(None), TrainingSet.clip_dropped_at.is_(None),
        TrainingSet.uploaded_at < old, TrainingSet.status != "checking",
    )  # fmt: skip
    with database.write() as session:
        rows = list(session.scalars(query))
        for row in rows:
            row.clip_dropped_at = now()
    lately = select(TrainingSet.clip, TrainingSet.second_clip).where(
        TrainingSet.clip_dropped_at > now() - AGAIN
    )
    with database.write() as session:
        drop_unreferenced(session, files, [clip for row in session.execute(lately) for clip in row if clip])
    return len(rows)
