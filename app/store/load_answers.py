"""Trainers' answers to the question about the load: rows are only added, the latest of a machine counts."""

from __future__ import annotations

from datetime import datetime
from typing import cast

from sqlalchemy import ForeignKey, Index, String, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from app.rules.load_answer import Choice, LoadWord
from app.store.base import Base, now
from app.store.models import Person

WITHDRAWN = "withdrawn"


class LoadAnswer(Base):
    """One answer, or that it was taken back. set_id: the last set that the question rested on.

    choice: up, stay, lower or withdrawn; asked: what the question spoke for; before, load: of the last set
    and as answered, in ``unit``. card_load, card_unit: the usual load that the settings card held before.
    """

    __tablename__ = "load_answer"
    __table_args__ = (Index("ix_load_answer_person", "person_id", "exercise", "id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    exercise: Mapped[str] = mapped_column(String(80))
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    choice: Mapped[str] = mapped_column(String(10))
    asked: Mapped[str] = mapped_column(String(30))
    before: Mapped[float]
    load: Mapped[float]
    unit: Mapped[str] = mapped_column(String(10))
    card_load: Mapped[float | None]
    card_unit: Mapped[str] = mapped_column(String(10))
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


def latest(session: Session, person_id: int, exercise: str) -> LoadAnswer | None:
    """The last answer on a machine; None where there is none, or where it was taken back."""
    of = (LoadAnswer.person_id == person_id, LoadAnswer.exercise == exercise)
    row = session.scalar(select(LoadAnswer).where(*of).order_by(LoadAnswer.id.desc()).limit(1))
    return None if row is None or row.choice == WITHDRAWN else row


def answers(session: Session, person_id: int) -> dict[str, LoadWord]:
    """The last answer on each machine that was not taken back."""
    query = select(LoadAnswer, Person.name).join(Person, Person.id == LoadAnswer.by_id)
    rows = session.execute(query.where(LoadAnswer.person_id == person_id).order_by(LoadAnswer.id))
    last = {row.exercise: (row, name) for row, name in rows}
    return {
        exercise: LoadWord(
            cast(Choice, row.choice), row.load, row.before, unit=row.unit, asked=row.asked,
            set_id=row.set_id, by=name, at=row.at,
        )
        for exercise, (row, name) in last.items()
        if row.choice != WITHDRAWN
    }  # fmt: skip
