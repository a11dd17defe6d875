"""What was told wrongly of a set when it was sent: its day and its load."""

from __future__ import annotations

from datetime import date

from app.store.models import Person
from app.store.review import Acting
from app.store.rules import not_ahead, since_joined, sound_load, trainer_only


class Mending(Acting):
    """What a trainer puts right of a set; its machine and side are ``Handing.check_as``."""

    def mend_set(self, set_id: int, done_on: date, load: float | None, unit: str) -> None:
        """Move a set to the day on which it was done, and give it the load that was on; for trainers.

        The week, the circuit and the question about more load go by it from then on.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            since_joined(session.get_one(Person, row.person_id).created_at, not_ahead(done_on))
            row.done_on, row.load, row.unit = done_on, sound_load(load, unit), unit
