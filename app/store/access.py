"""The one way to people's data: every method acts for one person and refuses what is not theirs.

Members reach their own sets and card and are told what ``app.rules.told`` lets them be told; the tool's
report, other members and all decisions are the trainers'. ``app.store.signin`` gives the actor.
"""

from __future__ import annotations

from app.reading.yardstick_option import HIGH_CM, LOW_CM
from app.rules import told
from app.rules.words import name_key
from app.store import member_sets, queries, signin, told_sets
from app.store.archive import Archive
from app.store.bin import Bin
from app.store.card_numbers import CardNumbers
from app.store.cards import Cards
from app.store.cases import Cases
from app.store.check_again import check_again
from app.store.found_sets import OnlyCounted
from app.store.handing import Handing
from app.store.handouts import Handouts
from app.store.loads import Loads
from app.store.machines import Machines
from app.store.mending import Mending
from app.store.models import Job, Person, TrainingSet, now
from app.store.pictures import Pictures
from app.store.proofs import Proofs
from app.store.review import Review, member, there
from app.store.rules import clean, own_or_trainer, sound, trainer_only
from app.store.sending import NewSet, Sending
from app.store.stations import Stations

__all__ = ["Access", "NewSet"]


class Access(
    Sending, Review, Handing, Pictures, Loads, Cards, Machines, Bin, Proofs, Cases, Mending, Archive,
    CardNumbers, OnlyCounted, Stations, Handouts,
):  # fmt: skip
    """The store as one person may see and change it."""

    # --- people ---

    def me(self) -> Person:
        """The acting person."""
        return self.person(self.actor.id)

    def person(self, person_id: int) -> Person:
        """One person: oneself, or anyone for a trainer."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return there(session.get(Person, person_id))

    def members(self) -> list[queries.MemberLine]:
        """All members with when they last sent a set; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.members(session)

    def save_member(
        self,
        person_id: int | None,
        name: str,
        height_cm: float | None = None,
        beginner: bool = False,
        email: str = "",
    ) -> int:
        """Add a member, or change one; for trainers. Returns the id.

        Raises
        ------
        UsageError : a new name that another member has; namesakes of before keep theirs.
        """
        trainer_only(self.actor)
        name = clean(name, "The name", 80, needed=True)
        height = sound(height_cm, "The height in cm", low=LOW_CM, high=HIGH_CM)
        with self._db.write() as session:
            person = Person(role="member") if person_id is None else member(session, person_id)
            if person_id is not None and beginner and not person.beginner:
                person.asked_at_sets = queries.sent(session, person_id)
            if person_id is None or name_key(name) != name_key(person.name):
                queries.no_namesake(session, name)
            person.name, person.height_cm, person.beginner = name, height, beginner
            session.add(person)
            queries.set_email(session, person, email)
            session.flush()
            return person.id

    def set_email(self, email: str) -> None:
        """The e-mail under which the acting trainer signs in with the studio's provider."""
        trainer_only(self.actor)
        with self._db.write() as session:
            queries.set_email(session, there(session.get(Person, self.actor.id)), email)

    def consent(self, person_id: int) -> None:
        """A member agrees to being filmed and checked: when is kept, and which trainer wrote it down."""
        own_or_trainer(self.actor, person_id)
        with self._db.write() as session:
            person = member(session, person_id)
            if person.consent_at is None:
                person.consent_at = now()
                person.consent_by = self.actor.name if self.actor.is_trainer else None

    def newcomer_due(self, person_id: int, after: int) -> int:
        """How many sets a member who is new has sent, where it is time to ask whether they still are, else 0.

        after: so many sets since the last answer. The stricter limits stay until one is given. For trainers.
        """
        trainer_only(self.actor)
        with self._db.read() as session:
            person = member(session, person_id)
            sets = queries.sent(session, person_id)
        return sets if person.beginner and sets - person.asked_at_sets >= after else 0

    def answer_newcomer(self, person_id: int, still: bool) -> None:
        """Whether a member is still new to the machines; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            person = member(session, person_id)
            person.beginner, person.asked_at_sets = still, queries.sent(session, person_id)

    def make_link(self, person_id: int, days: int = 30) -> str:
        """A member's personal link, given out once; it ends after so many days. For trainers."""
        trainer_only(self.actor)
        sound(days, "The days", low=1, high=366)
        with self._db.write() as session:
            return signin.make_pass(session, "link", member(session, person_id).id, days=days)

    def links(self, person_id: int) -> list[queries.LinkLine]:
        """The links of a member that still work; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.links(session, person_id)

    def revoke_links(self, person_id: int) -> None:
        """End all links of a member and what was opened with them; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            signin.revoke(session, person_id)

    # --- sets ---

    def set(self, set_id: int) -> TrainingSet:
        """One set: one's own, or any for a trainer."""
        with self._db.read() as session:
            return self._set(session, set_id)

    def sets(self, person_id: int, exercise: str | None = None, most: int | None = None) -> list[TrainingSet]:
        """A member's sets, newest first; all of them where ``most`` is not given."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return member_sets.sets(session, person_id, exercise, most)

    def set_count(self, person_id: int) -> int:
        """How many sets a member did; pain that was told alone is none."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return member_sets.set_count(session, person_id)

    def handed(self, person_id: int) -> dict[int, bool]:
        """A member's sets that were handed over, each with whether one repetition alone was looked at."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return queries.handed(session, person_id)

    def job(self, set_id: int) -> Job | None:
        """How far the check of a set has come."""
        with self._db.read() as session:
            self._set(session, set_id)
            return queries.job(session, set_id)

    def try_again(self, set_id: int) -> None:
        """Have a clip checked once more; for trainers. Another one is not asked for any more.

        What was handed over before stays: only the word that asks for another one goes.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            while (last := queries.release(session, set_id)) and last.body["state"] == "failed":
                session.delete(last)
                session.flush()
                row.reviewed_at = None
            check_again(session, row)

    def told(self, set_id: int) -> told.Told:
        """A result as the member reads it."""
        with self._db.read() as session:
            row = self._set(session, set_id)
            return told_sets.told_of(session, row)
