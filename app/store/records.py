"""The tables of what is noted about keeping: who looked, what is not erased to the end, where backups are."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.store.models import Base, now


class Look(Base):
    """A trainer looked at a member's clip or its pictures; once a day is enough."""

    __tablename__ = "look"
    __table_args__ = (UniqueConstraint("set_id", "by_id", "day"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    day: Mapped[date]
    at: Mapped[datetime] = mapped_column(default=now)


class Erasure(Base):
    """A member whose erasing is not finished: something may still be written or read that was theirs.

    number, sets: of the member and their sets, whose rows are gone. writing: a check or an upload was
    under way.
    """

    __tablename__ = "erasure"

    id: Mapped[int] = mapped_column(primary_key=True)
    number: Mapped[int]
    sets: Mapped[list[Any]]
    writing: Mapped[bool]
    at: Mapped[datetime] = mapped_column(default=now)


class BackupMade(Base):
    """Where a backup was put, and when last: it may hold members who were erased since."""

    __tablename__ = "backup_made"

    place: Mapped[str] = mapped_column(String(500), primary_key=True)
    at: Mapped[datetime]
