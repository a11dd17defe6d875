"""What a member is told of sets: what was handed over, else what may be said before that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.rules import told, unread
from app.rules.other_machine import MACHINE
from app.store import tellings
from app.store.models import Release, TrainingSet
from app.store.queries import read_of, release, report, said, studio
from shared.report import SetReport


def counted(session: Session, row: TrainingSet) -> SetReport | None:
    """The report of a set as it is read, counted as its trainer did."""
    found = read_of(session, row.id)
    return told.recounted(found, row.counted) if found else None


def to_release(session: Session, row: TrainingSet, trainer: str) -> told.Told:
    """What would be handed over now."""
    if row.status == "failed":
        return unread.asks_again(said(session, row.id), trainer)
    return told.released(counted(session, row), said(session, row.id), row.pain, trainer)


def is_unsent(session: Session, row: TrainingSet) -> bool:
    """Whether a set was decided, counted or checked otherwise since it was handed over.

    Sentences are not compared: the room's units and the tool's wording change without any of that.
    """
    handed, checked = release(session, row.id), report(session, row.id)
    if handed is None:
        return False
    sent, now = told.Told.from_json(handed.body), to_release(session, row, "")
    if (sent.state, sent.count) != (now.state, now.count):
        return True
    anew = checked is not None and checked.created_at > handed.at
    return anew or _for_member(said(session, row.id, handed.at)) != _for_member(said(session, row.id))


def _for_member(decided: Mapping[str, told.Said]) -> dict[str, told.Said]:
    """What was decided, without what no member reads: of the machine, and which check missed a moment."""
    return {key: replace(one, check="") for key, one in decided.items() if key != MACHINE}


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
    if row.status == "checking":
        return told.Told("checking", "Your set is being checked", problems=[row.message])
    found = None if row.status == "failed" else counted(session, row)
    if found is None:
        return unread.failed(row.message)
    sure = MACHINE in said(session, row.id)
    return told.preliminary(found, row.pain, held=studio(session).hold_back, machine_sure=sure)
