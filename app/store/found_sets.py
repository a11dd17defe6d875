"""Sets that a phone at a machine found: kept for the member by every rule of a sent set, else counted.

Without a member's card nothing is kept but a count, and so it is wherever a rule refuses: the clip is not
even copied. Each set is taken once, whoever hands it over again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import BinaryIO, TypeVar

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.store import tellings
from app.store.base import day_of
from app.store.belongings import drop_unreferenced
from app.store.card_numbers import owner
from app.store.database import Database
from app.store.files import Files
from app.store.found_tables import FoundSet
from app.store.models import Person, now
from app.store.review import Acting
from app.store.rules import known_exercise, trainer_only
from app.store.sending import NewSet, added, may_send, set_values

_T = TypeVar("_T")
#: Why a set was only counted, in the order in which it is asked.
WHY: Mapping[str, str] = {
    "no-card": "No card was shown.",
    "no-member": "The card that was shown is no member's now.",
    "not-agreed": "The member has not agreed to be filmed.",
    "pain": "The member told of pain, and no trainer has cleared it.",
    "not-asked": "The member has not said that day that nothing hurts.",
    "no-machine": "Which machine it was cannot be told.",
}


@dataclass(frozen=True)
class Found:
    """A set that was found. key: what ``key_of`` gives; card: the number held to the camera, if any.

    exercise: None where the machine is not known; moment: when the set was done.
    """

    key: str
    card: int | None
    exercise: str | None
    moment: datetime


@dataclass(frozen=True)
class Taken:
    """What became of a set: kept as ``set_id``, or only counted and why, a key of ``WHY``."""

    set_id: int | None
    why: str = ""

    @property
    def sentence(self) -> str:
        """Why nothing was kept but a count, in a sentence; empty where the set was kept."""
        return WHY.get(self.why, "")


@dataclass(frozen=True)
class Counted:
    """So many sets of a day on one machine were only counted, for one reason."""

    day: date
    exercise: str
    why: str
    sets: int


class OnlyCounted(Acting):
    """What trainers read of sets that were not kept."""

    def only_counted(self, since: date) -> list[Counted]:
        """The sets that were only counted since a day, the newest day first; for trainers."""
        trainer_only(self.actor)
        of = FoundSet.day, FoundSet.exercise, FoundSet.why
        query = select(*of, func.count()).where(FoundSet.why != "", FoundSet.day >= since).group_by(*of)
        with self._db.read() as session:
            return [Counted(*row) for row in session.execute(query.order_by(of[0].desc(), *of[1:]))]


def key_of(recording: str, start_s: float) -> str:
    """What tells a set again: of a recording, by its bytes' hash, and where in it the set starts, s.

    It can be told from nothing else: neither recording nor time of day can be read from it.
    """
    return hashlib.sha256(f"{recording}:{round(start_s, 1)}".encode()).hexdigest()


def keep_found(database: Database, files: Files, found: Found, clip: BinaryIO, name: str = "") -> Taken:
    """Keep a found set and have its clip checked like a sent one, or only count it.

    name: of the clip's file. Handed over again it changes nothing and gives what became of it then.

    Raises
    ------
    UsageError : the machine is none, or the disk is full. InternalError : the store cannot keep it now; in
        both cases it may be handed over again.
    """
    taken = refused(database, found)
    if taken is not None:
        return taken
    address = files.keep(clip)
    return _once(lambda: _keep(database, files, found, address, name))


def refused(database: Database, found: Found) -> Taken | None:
    """Count a set that a rule refuses; None where its clip is wanted. Raises as ``keep_found``.

    Also what became of a set that was taken before.
    """
    if found.exercise is not None:
        known_exercise(found.exercise)

    def counted() -> Taken | None:
        with database.write() as session:
            settled = _settled(session, found)
            return settled if isinstance(settled, Taken) else None

    return _once(counted)


def why_not(database: Database, found: Found) -> str:
    """Why a set would only be counted if it was handed over now, a key of ``WHY``; empty where it is kept."""
    with database.read() as session:
        whose = _whose(session, found)
        return "" if isinstance(whose, Person) else whose


def _once(step: Callable[[], _T]) -> _T:
    """A step that writes a set down; where somebody else did so at the same moment, what became of it."""
    try:
        return step()
    except IntegrityError:
        return step()


def _settled(session: Session, found: Found) -> Person | Taken:
    """What became of a set before, or becomes of it by a rule; else whose it is."""
    row = session.get(FoundSet, found.key)
    if row is not None:
        return Taken(row.set_id, row.why)
    whose = _whose(session, found)
    if isinstance(whose, Person):
        return whose
    session.add(_row(found, why=whose))
    return Taken(None, whose)


def _keep(database: Database, files: Files, found: Found, address: str, name: str) -> Taken:
    """Write the set down; what was told since its clip was wanted goes first, and then the clip goes."""
    with database.write() as session:
        settled = _settled(session, found)
        if isinstance(settled, Taken):
            drop_unreferenced(session, files, [address])
            return settled
        set_id = _added(session, files, found, person=settled, address=address, name=name)
        session.add(_row(found, set_id=set_id))
        return Taken(set_id)


def _row(found: Found, why: str = "", set_id: int | None = None) -> FoundSet:
    day, exercise = day_of(found.moment), found.exercise or ""
    return FoundSet(key=found.key, day=day, exercise=exercise, why=why, set_id=set_id)


def _added(session: Session, files: Files, found: Found, person: Person, address: str, name: str) -> int:
    new = NewSet(person.id, found.exercise or "", day_of(min(found.moment, now())))
    may_send(session, new, clip=True)
    clip = {"clip": address, "clip_name": name[-200:], "status": "checking"}
    return added(session, files, set_values(new, machine_needed=True) | clip)[0].id


def _whose(session: Session, found: Found) -> Person | str:
    """Whose set it is where it may be kept, else why it is only counted."""
    if found.card is None:
        return "no-card"
    person = owner(session, found.card, found.moment)
    if person is None:
        return "no-member"
    if person.consent_at is None:
        return "not-agreed"
    if tellings.stopped(session, person.id):
        return "pain"
    if not tellings.denied(session, person.id, day_of(found.moment)):
        return "not-asked"
    return person if found.exercise else "no-machine"
