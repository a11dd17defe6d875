"""Reads for the trainer's week: every member who trained or waits."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from app.rules.room import Room
from app.rules.week import WEEK, Trained, Waiting
from app.store import load_answers, member_sets, queries, tellings
from app.store.load_history import load_history, set_facts
from app.store.models import Person, TrainingSet


def trained(session: Session, today: date, most: int) -> list[Trained]:
    """Members, by name, who trained in the week up to today or have a set that nobody has looked at.

    most: so many sets of each are read. What is still being checked waits only where pain was told.
    """
    recent = or_(TrainingSet.done_on > today - WEEK, TrainingSet.reviewed_at.is_(None))
    ids = select(TrainingSet.person_id).where(recent)
    people = select(Person).where(Person.id.in_(ids), Person.role == "member", Person.active)
    room = queries.room(session)
    return [
        _of(session, person, member_sets.sets(session, person.id, None, most), room)
        for person in session.scalars(people.order_by(Person.name, Person.id))
    ]


def _of(session: Session, person: Person, rows: Sequence[TrainingSet], room: Room) -> Trained:
    unseen = (r for r in rows if r.reviewed_at is None and (r.status != "checking" or r.pain))
    open_ = sorted(unseen, key=lambda r: (r.worry, r.done_on, r.id))
    waiting = None
    if open_:
        oldest = min(r.done_on for r in open_)
        cleared = [tellings.cleared_by(session, r.id) for r in open_ if r.pain]
        waiting = Waiting(len(open_), oldest, open_[0].id, "" in cleared, next(filter(None, cleared), ""))
    history = load_history(rows, set_facts(session, [r.id for r in rows]), room)
    return Trained(
        person.id, person.name, waiting, history, stopped=tellings.stopped(session, person.id),
        said=load_answers.answers(session, person.id),
    )  # fmt: skip
