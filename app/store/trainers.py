"""Several trainers: who comes in, who leaves while their work stays, and who looked at whose clip.

The owner is the trainer of longest standing; there is always one.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select

from app.store import signin
from app.store.models import Decision, Person, TrainingSet
from app.store.records import Look
from app.store.review import Acting, there
from app.store.rules import Refused, clean, trainer_only
from shared.errors import UsageError

#: So many days the way in of a new trainer works, once.
INVITED_DAYS = 2


@dataclass(frozen=True)
class TrainerLine:
    """A trainer; active: until they leave."""

    id: int
    name: str
    active: bool
    owner: bool


@dataclass(frozen=True)
class LookLine:
    """A trainer looked at a member's clip or its pictures, for the first time that day."""

    trainer: str
    member: str
    set_id: int
    at: datetime


@dataclass(frozen=True)
class DecisionLine:
    """Who decided what of a set, and when."""

    trainer: str
    finding: str
    kind: str
    words: str
    at: datetime


class Trainers(Acting):
    """Trainers among themselves."""

    def trainers(self) -> list[TrainerLine]:
        """All trainers, those who left too; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            owner = signin.owner(session)
            rows = session.scalars(select(Person).where(Person.role == "trainer").order_by(Person.id))
            return [TrainerLine(p.id, p.name, active=p.active, owner=p is owner) for p in rows]

    def is_owner(self) -> bool:
        """Whether the acting person is the studio's owner."""
        with self._db.read() as session:
            owner = signin.owner(session)
        return owner is not None and owner.id == self.actor.id

    def invite_trainer(self, name: str) -> str:
        """Add a trainer; returns the secret of a link that lets them in once. For the owner."""
        self._owner_only()
        name = clean(name, "The name", 80, needed=True)
        with self._db.write() as session:
            person = Person(name=name, role="trainer")
            session.add(person)
            session.flush()
            return signin.make_pass(session, "invited", person_id=person.id, days=INVITED_DAYS)

    def let_go(self, trainer_id: int) -> None:
        """Shut a trainer out at once; their decisions stay, with their name. For the owner."""
        self._owner_only()
        with self._db.write() as session:
            person = there(session.get(Person, trainer_id))
            if person.role != "trainer":
                raise Refused
            if person.id == self.actor.id:
                raise UsageError("You are the owner; someone else has to stay before you can leave.")
            person.active, person.login, person.password, person.email = False, None, None, None
            signin.revoke(session, person.id, ("link", "session", "once", "invited", "start", "device"))

    def looks(self, most: int = 200) -> list[LookLine]:
        """Who looked at whose clip, latest first; for the owner."""
        self._owner_only()
        with self._db.read() as session:
            of = select(Look, TrainingSet.person_id).join(TrainingSet, TrainingSet.id == Look.set_id)
            rows = session.execute(of.order_by(Look.at.desc(), Look.id.desc()).limit(most)).all()
            names = {i: name for i, name in session.execute(select(Person.id, Person.name))}
        return [LookLine(names[look.by_id], names[whose], look.set_id, look.at) for look, whose in rows]

    def decisions(self, set_id: int) -> list[DecisionLine]:
        """What trainers said of a set, each with who and when, oldest first; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            self._set(session, set_id)
            of = select(Decision, Person.name).join(Person, Person.id == Decision.by_id)
            rows = session.execute(of.where(Decision.set_id == set_id).order_by(Decision.id))
            return [DecisionLine(name, d.finding, d.kind, d.words, d.at) for d, name in rows]

    def _owner_only(self) -> None:
        if not self.is_owner():
            raise Refused
