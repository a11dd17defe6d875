"""What a member is told of sets: what was handed over, else what may be said before that."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.rules import told, unread
from app.store import tellings
from app.store.models import Release, TrainingSet
from app.store.queries import read_in, release, report, room, said, studio


def to_release(session: Session, row: TrainingSet, trainer: str) -> told.Told:
    """What would be handed over now."""
    if row.status == "failed":
        return unread.asks_again(said(session, row.id), trainer)
    kept = report(session, row.id)
    counted = told.recounted(read_in(room(session), kept), row.counted) if kept else None
    return told.released(counted, said(session, row.id), row.pain, trainer)


def is_unsent(session: Session, row: TrainingSet) -> bool:
    """Whether the member still reads something else than was decided since the set was handed over."""
    handed = release(session, row.id)
    if handed is None:
        return False
    sent = told.Told.from_json(handed.body)
    now = to_release(session, row, sent.by)
    return (sent.prompts, sent.note, sent.count) != (now.prompts, now.note, now.count)


def told_of(session: Session, row: TrainingSet) -> told.Told:
    """The result as the member reads it: what was handed over, else what may be said before that."""
    stop = tellings.stopped(session, row.person_id)
    return _told(session, row, release(session, row.id), stop)


def told_of_all(session: Session, rows: Sequence[TrainingSet]) -> list[told.Told]:
    """``told_of`` each of several sets, with one look for all that was handed over."""
    ids = [row.id for row in rows]
    handed = session.scalars(select(Release).where(Release.set_id.in_(ids)).order_by(Release.id))
    latest = {one.set_id: one for one in handed}
    stops = {person_id: tellings.stopped(session, person_id) for person_id in {r.person_id for r in rows}}
    return [_told(session, row, latest.get(row.id), stops[row.person_id]) for row in rows]


def _told(session: Session, row: TrainingSet, handed: Release | None, stop: bool) -> told.Told:
    """stop: pain stops the member, whatever was handed over before."""
    if handed is not None:
        content = told.Told.from_json(handed.body)
        since = row.pain and row.reviewed_at is not None
        return told.stopped(content, since) if stop else told.going_on(content, row.pain)
    if stop:
        return told.stopped()
    if row.pain:
        return told.Told("preliminary", told.PAIN_FIRST)
    kept = report(session, row.id)
    if row.status in ("checking", "failed") or kept is None:
        if row.status == "checking":
            return told.Told("checking", "Your set is being checked", problems=[row.message])
        return unread.failed(row.message)
    counted = told.recounted(read_in(room(session), kept), row.counted)
    return told.preliminary(counted, row.pain, held=studio(session).hold_back)
