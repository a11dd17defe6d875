"""A member's sets: how many there are, the newest, and the last ones of each machine."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from app.rules.states import PAIN_ALONE
from app.store.models import TrainingSet

#: What is a set that was done: pain that was told alone is none.
A_SET = TrainingSet.status != PAIN_ALONE
NEWEST = (TrainingSet.done_on.desc(), TrainingSet.id.desc())


def set_count(session: Session, person_id: int) -> int:
    """How many sets a member did."""
    of = (TrainingSet.person_id == person_id, A_SET)
    return session.scalar(select(func.count()).where(*of)) or 0


def sets(session: Session, person_id: int, exercise: str | None, most: int | None) -> list[TrainingSet]:
    """A member's sets, newest first; all of them where ``most`` is None."""
    query = select(TrainingSet).where(TrainingSet.person_id == person_id)
    if exercise is not None:
        query = query.where(TrainingSet.exercise == exercise)
    return list(session.scalars(query.order_by(*NEWEST).limit(most)))


def last_of_each(
    session: Session,
    person_id: int,
    *which: ColumnElement[bool],
    most: int = 1,
    first: Sequence[ColumnElement[int]] = (),
) -> list[TrainingSet]:
    """A member's last sets of each machine, newest first. first: what goes before the newest."""
    nth = func.row_number().over(partition_by=TrainingSet.exercise, order_by=(*first, *NEWEST))
    numbered = select(TrainingSet.id, nth.label("nth")).where(TrainingSet.person_id == person_id, *which)
    last = numbered.subquery()
    chosen = select(TrainingSet).join(last, last.c.id == TrainingSet.id).where(last.c.nth <= most)
    return list(session.scalars(chosen.order_by(*NEWEST)))
