"""Members who train here no longer: kept, not listed, let in by nothing, and brought back at will."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import func, select

from app.store import card_numbers, signin
from app.store.erasing import erase
from app.store.export import export_member
from app.store.models import Person, TrainingSet, now
from app.store.review import kept_member, member
from app.store.rules import trainer_only
from app.store.trainers import Trainers
from shared.errors import UsageError


class Archive(Trainers):
    """What trainers do with a member as a whole."""

    def archive_member(self, person_id: int) -> None:
        """Take a member off every list and end their card, links and sessions; all is kept. For trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            person = member(session, person_id)
            person.active, person.archived_at = False, now()
            signin.revoke(session, person.id)
            card_numbers.end(session, person.id)

    def bring_back(self, person_id: int) -> None:
        """List a member again; card and links have to be made anew. For trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            person = kept_member(session, person_id)
            person.active, person.archived_at = True, None

    def archived(self) -> list[Person]:
        """The members who are archived, by name; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            query = select(Person).where(Person.role == "member", Person.archived_at.is_not(None))
            return list(session.scalars(query.order_by(func.lower(Person.name), Person.id)))

    def delete_member(self, person_id: int, name: str) -> None:
        """Erase an archived member for good, once their name was typed; for the owner.

        Raises
        ------
        UsageError : the member is not archived, or the name is not theirs. InternalError : see ``erase``.
        """
        self._owner_only()
        with self._db.read() as session:
            person = kept_member(session, person_id)
            if person.archived_at is None:
                raise UsageError("Archive this member first; only who is archived can be deleted for good.")
            if name.strip() != person.name:
                raise UsageError(f"That is not the name; type {person.name} as it stands.")
        erase(self._db, self._files, person_id)

    def export_member(self, person_id: int, archive: Path) -> None:
        """Write all that is kept of a member into one zip, heads hidden, archived or not; for trainers.

        That the trainer has their pictures now is noted as a look at each set.
        """
        trainer_only(self.actor)
        with self._db.read() as session:
            kept_member(session, person_id)
            sets = list(session.scalars(select(TrainingSet.id).where(TrainingSet.person_id == person_id)))
        for set_id in sets:
            self._note_look(set_id)
        export_member(self._db, self._files, person_id=person_id, archive=archive)
