"""What all tables rest on: moments with their zone, and how Python's types are kept."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, DateTime
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase
from sqlalchemy.types import TypeDecorator


def now() -> datetime:
    """The present moment, with its zone."""
    return datetime.now(UTC)


def day_of(moment: datetime) -> date:
    """The day of a moment in the time zone of the studio's computer."""
    return moment.astimezone().date()


def today() -> date:
    """The studio's day, the same on every page and for every rule."""
    return day_of(now())


class Utc(TypeDecorator[datetime]):
    """A moment: kept without zone as UTC, given back with it; a moment without zone is refused."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """To the database."""
        if value is not None and value.tzinfo is None:
            raise ValueError("a moment needs its zone")
        return None if value is None else value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """From the database."""
        return None if value is None else value.replace(tzinfo=UTC)


class Base(DeclarativeBase):
    """All tables of the store."""

    type_annotation_map = {datetime: Utc, dict[str, Any]: JSON, list[Any]: JSON}  # noqa: RUF012
