"""Pain as members tell it and trainers clear it; ``app.store.tellings`` keeps it and decides who stops."""

from __future__ import annotations

from typing import get_args

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.rules.pain import STOPPED, PainWord, Stop, Stopped
from app.rules.states import PAIN_ALONE, Feeling
from app.store import queries, tellings
from app.store.base import today
from app.store.models import TrainingSet
from app.store.review import Acting, member
from app.store.rules import clean, known_exercise, one_of, own_or_trainer, trainer_only
from shared.errors import UsageError


class Pain(Acting):
    """What is told of pain and feeling, and what stops a member."""

    def pain(self, person_id: int) -> Stop:
        """What stops a member, for themselves and for trainers: every screen asks this."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return tellings.stop_of(session, person_id)

    def stopped(self) -> list[Stopped]:
        """Every member who stops because of pain; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return tellings.all_stopped(session)

    def tell_pain(self, person_id: int, where: str = "", exercise: str = "") -> int:
        """Tell of pain without a clip; more of it goes to the same set while it is open. Returns its id."""
        own_or_trainer(self.actor, person_id)
        machine = known_exercise(exercise) if exercise else ""
        with self._db.write() as session:
            member(session, person_id)
            of = (TrainingSet.person_id == person_id, TrainingSet.status == PAIN_ALONE)
            row = session.scalar(
                select(TrainingSet)
                .where(*of, TrainingSet.id.in_([t.set_id for t in tellings.stop_of(session, person_id).open]))
                .order_by(TrainingSet.id.desc())
                .limit(1)
            )
            if row is None:
                row = TrainingSet(person_id=person_id, exercise="", done_on=today(), status=PAIN_ALONE)
                session.add(row)
                session.flush()
            row.exercise = row.exercise or machine
            self._tell(session, row, before=True, where=where)
            return row.id

    def deny_pain(self, person_id: int) -> None:
        """Keep that a member said today that nothing hurts; refused while pain stops them."""
        own_or_trainer(self.actor, person_id)
        with self._db.write() as session:
            person = member(session, person_id)
            if tellings.stopped(session, person.id):
                raise UsageError(STOPPED)
            if not tellings.denied(session, person.id, today()):
                session.add(tellings.NoPain(person_id=person.id, by_id=self.actor.id))

    def denies_pain(self, person_id: int) -> bool:
        """Whether a member said today, in the studio's time zone, that nothing hurts."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return tellings.denied(session, person_id, today())

    def after_set(self, set_id: int, feeling: str | None, pain: bool, where: str = "") -> None:
        """How the set felt, told by the member; what was told before stays. Pain brings it to the trainer."""
        felt: Feeling | None = one_of(feeling, get_args(Feeling), "The feeling")
        with self._db.write() as session:
            row = self._set(session, set_id)
            row.pain_after = row.pain_after or pain
            self._tell(session, row, where=where, feeling=felt, pain=pain)

    def tellings(self, set_id: int) -> list[PainWord]:
        """All that was told of a set, oldest first; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return tellings.of_set(session, self._set(session, set_id).id)

    def clear_pain(self, person_id: int, up_to: int) -> None:
        """Let a member go on; for trainers. up_to: the last telling that the trainer has read."""
        trainer_only(self.actor)
        with self._db.write() as session:
            cleared = tellings.clear(session, member(session, person_id).id, up_to, self.actor.id)
            for set_id in cleared:
                queries.rate(session, self._set(session, set_id))

    def _tell(
        self,
        session: Session,
        row: TrainingSet,
        before: bool = False,
        where: str = "",
        feeling: Feeling | None = None,
        pain: bool = True,
    ) -> None:
        place = clean(where, "Where it hurts", 300)
        row.pain_before = row.pain_before or before
        tellings.tell(session, row, pain, place, feeling, self.actor.id)
        queries.rate(session, row)
