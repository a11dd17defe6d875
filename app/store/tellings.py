"""Pain, place and feeling as they were told, and a trainer's word that clears pain: rows are only added.

``TrainingSet`` keeps the sum of a set's tellings. Whether pain stops a member is decided here alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta

from sqlalchemy import ForeignKey, Index, Row, Select, String, Text, exists, func, select
from sqlalchemy.orm import Mapped, Session, mapped_column

from app.rules.pain import PainTold, PainWord, Stop, Stopped
from app.rules.states import Feeling
from app.store.models import Base, Person, TrainingSet, now


class Telling(Base):
    """What was told with a set at one time. feeling: None where nothing was said of it."""

    __tablename__ = "telling"

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"), index=True)
    pain: Mapped[bool]
    place: Mapped[str] = mapped_column(Text, default="")
    feeling: Mapped[Feeling | None] = mapped_column(String(20))
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


class Cleared(Base):
    """A trainer's word that the member may go on after one telling of pain."""

    __tablename__ = "cleared"

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    telling_id: Mapped[int] = mapped_column(ForeignKey("telling.id"), index=True)
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


class NoPain(Base):
    """A member's No to the question about pain, told for a day and without a set; rows are only added."""

    __tablename__ = "no_pain"
    __table_args__ = (Index("ix_no_pain_person", "person_id", "at"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


def tell(
    session: Session, row: TrainingSet, pain: bool, place: str, feeling: Feeling | None, by_id: int
) -> None:
    """Keep one telling of a set. Pain that was told stays told, and brings the set back to the trainer."""
    telling = Telling(set_id=row.id, pain=pain, place=place, feeling=feeling, by_id=by_id)
    session.add(telling)
    row.feeling = feeling or row.feeling
    if pain:
        row.reviewed_at = None
        if place and place not in row.pain_where.split("; "):
            row.pain_where = "; ".join(filter(None, (row.pain_where, place)))


def clear(session: Session, person_id: int, up_to: int, by_id: int) -> set[int]:
    """Clear a member's open pain as far as the trainer has read of it; what was told since stays open.

    Returns the ids of the sets that it was told with.
    """
    read = [one for one, _ in session.execute(_open_of(person_id)).all() if one.id <= up_to]
    for telling in read:
        session.add(Cleared(set_id=telling.set_id, telling_id=telling.id, by_id=by_id))
    return {telling.set_id for telling in read}


def cleared_by(session: Session, set_id: int) -> str:
    """The trainer who cleared a set's pain last, empty while any of it is open."""
    session.flush()
    if session.execute(_open().where(Telling.set_id == set_id).limit(1)).first() is not None:
        return ""
    last = select(Person.name).join(Cleared, Cleared.by_id == Person.id).where(Cleared.set_id == set_id)
    return session.scalar(last.order_by(Cleared.id.desc()).limit(1)) or ""


def denied(session: Session, person_id: int, day: date) -> bool:
    """Whether a member's last answer of a day to the question about pain was No.

    Pain that was told later that day asks for a new answer, also once it was cleared.
    """
    start, end = (datetime.combine(d, time()).astimezone() for d in (day, day + timedelta(days=1)))
    said = session.scalar(
        select(func.max(NoPain.at)).where(NoPain.person_id == person_id, NoPain.at >= start, NoPain.at < end)
    )
    if said is None:
        return False
    later = select(Telling.id).join(TrainingSet, TrainingSet.id == Telling.set_id)
    pain = later.where(TrainingSet.person_id == person_id, Telling.pain, Telling.at >= said, Telling.at < end)
    return session.scalar(pain.limit(1)) is None


def stopped(session: Session, person_id: int) -> bool:
    """Whether pain stops a member: it was told, and no trainer has cleared it."""
    return session.execute(_open_of(person_id).limit(1)).first() is not None


def stop_of(session: Session, person_id: int) -> Stop:
    """A member's open pain, and who cleared pain last."""
    last = session.execute(
        select(Person.name, Cleared.at)
        .join(Cleared, Cleared.by_id == Person.id)
        .join(TrainingSet, TrainingSet.id == Cleared.set_id)
        .where(TrainingSet.person_id == person_id)
        .order_by(Cleared.id.desc())
        .limit(1)
    ).first()
    cleared = None if last is None else (last[0], last[1])
    return Stop(_told(session.execute(_open_of(person_id)).all()), cleared)


def all_stopped(session: Session) -> list[Stopped]:
    """Every member who stops, by name."""
    query = _open().join(Person, Person.id == TrainingSet.person_id).add_columns(Person.id, Person.name)
    found: dict[tuple[str, int], list[tuple[Telling, str]]] = {}
    for telling, exercise, person_id, name in session.execute(query.where(Person.active)):
        found.setdefault((name, person_id), []).append((telling, exercise))
    return [Stopped(number, name, Stop(_told(rows))) for (name, number), rows in sorted(found.items())]


def of_set(session: Session, set_id: int) -> list[PainWord]:
    """All that was told of a set, oldest first."""
    clearing = select(Cleared.telling_id, Person.name, Cleared.at).join(Person, Person.id == Cleared.by_id)
    cleared = {
        telling: (name, at)
        for telling, name, at in session.execute(
            clearing.where(Cleared.set_id == set_id).order_by(Cleared.id)
        )
    }
    query = select(Telling, Person.name).join(Person, Person.id == Telling.by_id)
    rows = session.execute(query.where(Telling.set_id == set_id).order_by(Telling.id))
    return [
        PainWord(t.pain, t.place, feeling=t.feeling, by=name, at=t.at, cleared=cleared.get(t.id))
        for t, name in rows
    ]


def _open() -> Select[Telling, str]:
    over = exists().where(Cleared.telling_id == Telling.id)
    query = select(Telling, TrainingSet.exercise).join(TrainingSet, TrainingSet.id == Telling.set_id)
    return query.where(Telling.pain, ~over).order_by(Telling.id)


def _open_of(person_id: int) -> Select[Telling, str]:
    return _open().where(TrainingSet.person_id == person_id)


def _told(rows: Iterable[Row[Telling, str] | tuple[Telling, str]]) -> tuple[PainTold, ...]:
    return tuple(PainTold(t.id, t.set_id, exercise, place=t.place, at=t.at) for t, exercise in rows)
