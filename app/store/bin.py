"""Clips that were deleted on the page: out of sight at once, for good after a week."""

from __future__ import annotations

from datetime import timedelta
from itertools import chain

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.store import queries, standing
from app.store.belongings import addresses, drop_unreferenced
from app.store.check_again import DELETED
from app.store.database import Database
from app.store.files import Files
from app.store.models import Job, Report, TrainingSet, now
from app.store.review import Acting
from app.store.rules import Refused
from shared.errors import UsageError

KEPT = timedelta(days=7)


class Bin(Acting):
    """Deleting a clip and its pictures, and taking that back. Numbers, pain and decisions stay."""

    def delete_clip(self, set_id: int) -> None:
        """Put a clip in the bin: the member their own, a trainer any. A check under way ends."""
        with self._db.write() as session:
            row = self._set(session, set_id)
            if row.clip is None or row.binned_at is not None:
                return
            row.binned_at, row.binned_by = now(), self.actor.id
            job = queries.job(session, set_id)
            if job is not None and job.state in ("queued", "running"):
                job.state, job.message, job.finished_at = "failed", DELETED, now()
                standing.not_judged(session, row, DELETED)

    def may_put_back(self, row: TrainingSet) -> bool:
        """Whether the acting person may take a clip out of the bin.

        The member may; a trainer what a trainer deleted, since what the member does not want kept is theirs.
        """
        mine = row.person_id == self.actor.id
        return row.binned_at is not None and (
            mine or (self.actor.is_trainer and row.binned_by != row.person_id)
        )

    def put_back(self, set_id: int) -> None:
        """Take a clip out of the bin, while it is there.

        Raises
        ------
        Refused : it was not this person to say. UsageError : the week is over.
        """
        with self._db.write() as session:
            row = self._set(session, set_id)
            if not self.may_put_back(row):
                raise Refused
            if not days_left(row):
                raise UsageError("The week is over and this clip is gone; its numbers are kept.")
            row.binned_at, row.binned_by = None, None
            if row.message == DELETED and row.clip_dropped_at is None:
                row.status, row.message = "checking", ""
                session.add(Job(set_id=set_id))
                queries.rate(session, row)


def days_left(row: TrainingSet) -> int:
    """For how many days a clip in the bin may still be put back; the last begun one counts."""
    left = row.binned_at + KEPT - now() if row.binned_at else timedelta()
    return max(0, left.days + 1) if left > timedelta() else 0


def empty_bin(database: Database, files: Files) -> int:
    """Drop what has lain in the bin for a week, clips, drawn clips, pages and pictures; how many clips."""
    with database.write() as session:
        over = session.scalars(select(TrainingSet).where(TrainingSet.binned_at < now() - KEPT)).all()
        gone = [found for row in over if (found := _emptied(session, row))]
        drop_unreferenced(session, files, chain.from_iterable(gone))
    return len(gone)


def _emptied(session: Session, row: TrainingSet) -> list[str]:
    """Take the files with pictures off a set and its reports, and return their addresses.

    The clip as it was sent may be gone before: it has a time of its own.
    """
    sent = [] if row.clip_dropped_at else [row.clip, row.second_clip]
    gone = [address for address in sent if address]
    row.clip_dropped_at = row.clip_dropped_at or now()
    for report in session.scalars(select(Report).where(Report.set_id == row.id)):
        kept = {c: getattr(report, c) for c in ("annotated", "page", "moving")} | {"signals": None}
        gone += addresses([{**kept, "pictures": report.pictures}])
        report.annotated, report.page, report.moving, report.pictures = None, None, None, []
    return gone
