"""The tables of a phone that stays: whose card a number is, and which sets were found."""

from __future__ import annotations

from datetime import date, datetime

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.store.base import Base, now


class MemberCard(Base):
    """A card's number, 1 to ``CARDS``, and whose it is; person_id: None once it was ended."""

    __tablename__ = "member_card"

    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), unique=True)
    given_at: Mapped[datetime] = mapped_column(default=now)
    ended_at: Mapped[datetime | None]


class FoundSet(Base):
    """A set that a phone at a machine saw, so that it is taken once: kept as ``set_id``, else only counted.

    key: a hash that tells the same set again and nothing else. day: in the studio's time zone. exercise:
    empty where the machine is not known. why: a key of ``app.store.found_sets.WHY``, empty where it was kept.
    """

    __tablename__ = "found_set"

    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    day: Mapped[date] = mapped_column(index=True)
    exercise: Mapped[str] = mapped_column(String(80))
    why: Mapped[str] = mapped_column(String(20))
    set_id: Mapped[int | None] = mapped_column(ForeignKey("training_set.id"))
