"""Having a clip checked once more, where it is still kept."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.store import queries
from app.store.models import Job, TrainingSet
from shared.errors import UsageError

DELETED = "This clip was deleted; its numbers are kept."


def check_again(session: Session, row: TrainingSet) -> None:
    """Have a clip checked once more; nothing happens where it is being checked, or where there is none."""
    latest = queries.job(session, row.id)
    if row.clip is None or (latest is not None and latest.state in ("queued", "running")):
        return
    if row.binned_at is not None:
        raise UsageError(DELETED)
    if row.clip_dropped_at is not None:
        raise UsageError("This clip is no longer kept, only its numbers; film the set again.")
    row.status, row.message = "checking", ""
    queries.rate(session, row)
    session.add(Job(set_id=row.id))
