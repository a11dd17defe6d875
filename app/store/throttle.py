"""Wrong attempts to come in: who guesses waits, and is forgotten after a while."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from sqlalchemy import delete, or_
from sqlalchemy.orm import Session

from app.store.database import Database
from app.store.models import Throttle, now
from shared.errors import UsageError

#: So many tries are free; then all who share a key have one in so many s.
FREE_TRIES, SLOW_S = 5, 120
#: Tries are forgotten when so many s nobody tried: five an hour are fewer than the slow rate gives.
FORGOTTEN_S = 3600
SLOW_DOWN = "Too many wrong attempts; wait {wait} and try again."


class NotLetIn(UsageError):
    """The attempt to come in failed; the sentence says why, without saying who exists."""


def count_attempt(database: Database, key: str) -> None:
    """Count an attempt before it is looked at, so that attempts made at once are all counted."""
    with database.write() as session:
        row = session.get(Throttle, key, with_for_update=True) or Throttle(key=key, wrong=0)
        session.add(row)
        until = row.locked_until or now()
        wait = math.ceil((until - now()).total_seconds())
        if 0 < wait <= SLOW_S:  # longer: the clock was set back since
            raise NotLetIn(SLOW_DOWN.format(wait=f"{wait} s"))
        row.wrong = 1 if until < _long_ago() else row.wrong + 1
        row.locked_until = now() + timedelta(seconds=SLOW_S if row.wrong >= FREE_TRIES else 0)


def forgive(session: Session, key: str) -> None:
    """Forget the attempts under a key: the last one was right."""
    row = session.get(Throttle, key)
    if row is not None:
        session.delete(row)


def _long_ago() -> datetime:
    return now() - timedelta(seconds=FORGOTTEN_S)


def forget_over(session: Session) -> None:
    """Drop attempts that are long over."""
    over = or_(Throttle.locked_until.is_(None), Throttle.locked_until < _long_ago())
    session.execute(delete(Throttle).where(over))
