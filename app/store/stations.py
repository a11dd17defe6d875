"""Stations: phones on a stand, each at one machine. A station's link opens the station and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Select, select, update

from app.store.database import Database
from app.store.models import Pass, Person, now
from app.store.review import Acting
from app.store.rules import known_exercise, trainer_only
from app.store.signin import hashed, make_pass

KIND = "station"
#: A station stands until a trainer ends it; nobody stands it for longer than this.
DAYS = 3660


@dataclass(frozen=True)
class Station:
    """key: by which a trainer ends it, and which opens nothing; by: the trainer who made its link."""

    key: str
    exercise: str
    by: str
    made_at: datetime

    @property
    def owner(self) -> int:
        """Whose its clips are on their way: a number that no person has."""
        return -1 - int(self.key[:12], 16)


class Stations(Acting):
    """What trainers do with stations."""

    def make_station(self, exercise: str) -> str:
        """The secret of a new station's link, given out once; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            secret = make_pass(session, KIND, self.actor.id, DAYS)
            session.flush()
            session.get_one(Pass, hashed(secret)).exercise = known_exercise(exercise)
            return secret

    def stations(self) -> list[Station]:
        """The stations that work, the newest first; for trainers."""
        trainer_only(self.actor)
        return working(self._db)

    def end_station(self, key: str) -> None:
        """End a station: its phone is refused from now on. For trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            of = (Pass.hash == key, Pass.kind == KIND, Pass.revoked_at.is_(None))
            session.execute(update(Pass).where(*of).values(revoked_at=now()))


def working(database: Database) -> list[Station]:
    """The stations that work, the newest first."""
    with database.read() as session:
        rows = session.execute(_works().order_by(Pass.created_at.desc(), Pass.hash))
        return [_station(row, name) for row, name in rows]


def station_of(database: Database, secret: str | None) -> Station | None:
    """The station whose link has this secret; None where it was ended, or its trainer has left."""
    if not secret:
        return None
    with database.read() as session:
        row = session.execute(_works().where(Pass.hash == hashed(secret))).one_or_none()
        return None if row is None else _station(*row)


def _works() -> Select[Pass, str]:
    of = select(Pass, Person.name).join(Person, Pass.person_id == Person.id)
    return of.where(Pass.kind == KIND, Pass.revoked_at.is_(None), Pass.expires_at > now(), Person.active)


def _station(row: Pass, name: str) -> Station:
    return Station(row.hash, row.exercise or "", name, row.created_at)
