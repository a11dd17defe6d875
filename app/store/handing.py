"""Handing a set over to its member, taking that back, and having a clip checked as another machine's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from sqlalchemy import delete
from sqlalchemy.orm import Session

from app.rules.other_machine import MACHINE
from app.rules.worry import CLEAR
from app.store import queries, told_sets
from app.store.models import Job, Reference, Release, now
from app.store.review import Acting
from app.store.rules import Refused, known_exercise, one_of, trainer_only
from shared.errors import UsageError

#: So long, in s, what was handed over can be taken back.
RECALL_S = 60
TOO_LATE = "A minute has passed; open the set and hand it over anew instead."


class Handing(Acting):
    """What trainers alone do with a set as a whole."""

    def release(self, set_id: int) -> None:
        """Hand the result to the member as decided now; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            self._release(session, set_id)

    def release_clear(self, set_ids: Sequence[int]) -> None:
        """Hand several sets over in which nothing was flagged, all of them or none; for trainers.

        Each is rated anew first, and keeps that: one may wait with the rank of an earlier version.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            rows = [self._set(session, set_id) for set_id in set_ids]
            for row in rows:
                queries.rate(session, row)
            clear = all(row.worry == CLEAR for row in rows)
            for row in rows if clear else ():
                self._release(session, row.id, glanced=True)
        if not clear:
            raise UsageError("One of these sets is not clear any more; look at it by itself.")

    def _release(self, session: Session, set_id: int, glanced: bool = False) -> None:
        row = self._set(session, set_id)
        if row.status == "checking":
            raise UsageError("This set is still being checked; hand it over when that is done.")
        content = replace(told_sets.to_release(session, row, self.actor.name), glanced=glanced)
        looked_at, row.reviewed_at = row.reviewed_at, now()
        session.add(Release(set_id=set_id, body=content.to_json(), looked_at=looked_at, by_id=self.actor.id))

    def is_unsent(self, set_id: int) -> bool:
        """Whether something was decided of a set since it was handed over, and not sent; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return told_sets.is_unsent(session, self._set(session, set_id))

    def recall(self, set_id: int) -> None:
        """Take back what was handed over within the last minute; what was handed over before goes again.

        A set that waited before waits again, and one that waits anew since goes on waiting. For trainers.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            last = queries.release(session, set_id)
            if last is None or last.at < now() - timedelta(seconds=RECALL_S):
                raise UsageError(TOO_LATE)
            row.reviewed_at = last.looked_at if row.reviewed_at else None
            session.delete(last)

    def check_as(self, set_id: int, exercise: str, side: str | None) -> None:
        """Have a clip checked again as another machine's or as the other side; for trainers.

        What was decided of the old findings, and what was handed over, is withdrawn; an approved set is none
        any more.
        """
        trainer_only(self.actor)
        known_exercise(exercise)
        side = one_of(side, ("left", "right"), "The side")
        with self._db.write() as session:
            row = self._set(session, set_id)
            if row.clip is None:
                raise Refused
            if row.clip_dropped_at is not None:
                raise UsageError("This clip is no longer kept, only its numbers; film the set again.")
            if row.status == "checking":
                raise UsageError("This set is still being checked; wait until that is done.")
            self._withdraw(session, set_id)
            for table in (Release, Reference):
                session.execute(delete(table).where(table.set_id == set_id))
            row.exercise, row.side, row.reviewed_at, row.marks = exercise, side, None, None
            row.status, row.message, row.count = "checking", "", None
            queries.rate(session, row)
            session.add(Job(set_id=set_id))

    def keep_machine(self, set_id: int) -> None:
        """Say that the machine named is the right one, whatever the movement looks like; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            self._add_decision(session, set_id, MACHINE, kind="agree", words="")
            session.flush()
            queries.rate(session, row)

    def holds_back(self) -> bool:
        """Whether members read of a set only what was handed over; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.studio(session).hold_back

    def hold_back(self, held: bool) -> None:
        """Have members read only what was handed over, or at once what the tool says; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            kept = queries.studio(session)
            kept.hold_back, kept.changed_by = held, self.actor.id
            session.add(kept)
