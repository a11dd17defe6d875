"""A member's day: the circuit, what to work on next, and the question about the load."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from sqlalchemy import case, delete, exists, func, select
from sqlalchemy.orm import Session

from app.rules import circuit as rules
from app.rules.circuit import Circuit
from app.rules.history import SetRecord
from app.rules.next_work import FRESH, Looked, WorkLine, next_lines
from app.rules.pain import STOPPED
from app.rules.progress import Advice, advise
from app.rules.week import Digest, digest
from app.store import member_sets, queries, tellings, told_sets
from app.store.cards import limit_of
from app.store.digest import trained
from app.store.load_history import load_history, set_facts
from app.store.models import Card, Done, Person, Release, TrainingSet
from app.store.review import Acting, member, there
from app.store.rules import known_exercise, not_ahead, own_or_trainer, since_joined, trainer_only
from shared.errors import UsageError

#: So many sets of a machine are looked at for what to work on next, and of a member for the load.
LOOKED_AT, HISTORY = 2, 60


class Today(Acting):
    """What a member and their trainers ask of one day."""

    def circuit(self, person_id: int, today: date) -> Circuit:
        """The member's machines in order, and which are filmed, done, resting or due."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return _circuit(session, there(session.get(Person, person_id)), today)

    def save_circuit(self, person_id: int, names: Sequence[str] | None) -> None:
        """Keep the machines of a member's circuit in this order, None for the usual; for trainers."""
        trainer_only(self.actor)
        kept = None if names is None else [known_exercise(name) for name in dict.fromkeys(names)]
        with self._db.write() as session:
            member(session, person_id).circuit = kept or None

    def mark_done(self, person_id: int, exercise: str, day: date, done: bool) -> None:
        """Tell that a machine was done on a day without a clip, or take that back."""
        own_or_trainer(self.actor, person_id)
        known_exercise(exercise)
        this = (Done.person_id == person_id, Done.exercise == exercise, Done.day == day)
        with self._db.write() as session:
            person = member(session, person_id)
            if not done:
                session.execute(delete(Done).where(*this))
                return
            since_joined(person.created_at, not_ahead(day))
            if tellings.stopped(session, person.id):
                raise UsageError(STOPPED)
            if session.scalar(select(Done.id).where(*this)) is None:
                session.add(Done(person_id=person_id, exercise=exercise, day=day))

    def next_work(self, person_id: int, today: date) -> list[WorkLine]:
        """What to work on next, at most three lines, most important first; none while pain stops it."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            person = there(session.get(Person, person_id))
            if tellings.stopped(session, person.id):
                return []
            rows = _last_judged(session, person_id, today)
            contents = told_sets.told_of_all(session, rows)
            cards = session.scalars(select(Card).where(Card.person_id == person_id))
            limits = {card.exercise: limit_of(card) for card in cards}
        sets = [
            Looked(r.id, r.exercise, day=r.done_on, told=said) for r, said in zip(rows, contents, strict=True)
        ]
        return next_lines(sets, today, limits)

    def last_sets(self, person_id: int) -> list[TrainingSet]:
        """A member's last set of each machine, newest first."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return member_sets.last_of_each(session, person_id)

    def last_reviewed(self, person_id: int) -> list[TrainingSet]:
        """A member's last set of each machine that a trainer has looked at, newest first."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return member_sets.last_of_each(session, person_id, TrainingSet.reviewed_at.is_not(None))

    def history(self, person_id: int, most: int = HISTORY) -> list[SetRecord]:
        """A member's sets as the question about the load needs them; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return history_of(session, person_id, most)

    def load_questions(self, person_id: int) -> list[Advice]:
        """The question about the load on each machine, for trainer and member; none while pain stops them.

        Raises
        ------
        DefinitionError : the studio's file cannot be used.
        """
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            if tellings.stopped(session, person_id):
                return []
            history = history_of(session, person_id)
        return advise(history, self.load_settings())

    def week(self, today: date) -> Digest:
        """Who was not looked at, whose form slips as the load rises, who is due for a question; for trainers.

        Raises
        ------
        DefinitionError : the studio's file cannot be used.
        """
        trainer_only(self.actor)
        settings = self.load_settings()
        with self._db.read() as session:
            return digest(trained(session, today, HISTORY), settings, today)


def history_of(session: Session, person_id: int, most: int = HISTORY) -> list[SetRecord]:
    """A member's last sets as the question about the load needs them."""
    rows = member_sets.sets(session, person_id, None, most)
    return load_history(rows, set_facts(session, [r.id for r in rows]), queries.room(session))


def _circuit(session: Session, person: Person, today: date) -> Circuit:
    cards = select(Card.exercise).where(Card.person_id == person.id, Card.cleared)
    cleared = set(session.scalars(cards))
    clips = (TrainingSet.person_id == person.id, TrainingSet.clip.is_not(None), TrainingSet.done_on <= today)
    newest = select(TrainingSet.exercise, func.max(TrainingSet.done_on)).where(*clips)
    last = dict(session.execute(newest.group_by(TrainingSet.exercise)).all())
    of_today = select(TrainingSet.exercise, func.max(TrainingSet.id)).where(
        *clips, TrainingSet.done_on == today
    )
    filmed = dict(session.execute(of_today.group_by(TrainingSet.exercise)).all())
    ticked = select(Done.exercise, func.max(Done.day)).where(Done.person_id == person.id, Done.day <= today)
    done: set[str] = set()
    for exercise, day in session.execute(ticked.group_by(Done.exercise)):
        last[exercise] = max(day, last.get(exercise, day))
        if day == today:
            done.add(exercise)
    names = rules.machines(person.circuit, cleared, queries.room(session).machines)
    stop = tellings.stopped(session, person.id)
    return rules.circuit(names, cleared, filmed, done, last, today, stop)


def _last_judged(session: Session, person_id: int, today: date) -> list[TrainingSet]:
    """The last judged sets of each machine, newest first; those that were handed over before any other."""
    handed = case((exists().where(Release.set_id == TrainingSet.id), 0), else_=1)
    judged = (TrainingSet.status == "checked", TrainingSet.done_on >= today - FRESH)
    return member_sets.last_of_each(session, person_id, *judged, most=LOOKED_AT, first=(handed,))
