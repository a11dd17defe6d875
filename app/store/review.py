"""What every method of ``app.store.access`` starts from, and a trainer's review of a set."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.rules import told
from app.rules.inside_limit import hidden_limits
from app.rules.load_settings import Settings
from app.store import queries
from app.store.agreement import Agreement, agreement
from app.store.base import today
from app.store.database import Database
from app.store.files import Files
from app.store.models import Decision, Person, Reference, TrainingSet, now
from app.store.records import Look
from app.store.rules import (
    Actor,
    Refused,
    clean,
    has_check,
    one_of,
    own_or_trainer,
    sound,
    trainer_only,
)
from shared.errors import UsageError
from shared.report import SetReport


class Acting:
    """The store as one person may see and change it. load_settings: what the studio says of loads."""

    def __init__(
        self,
        database: Database,
        files: Files,
        actor: Actor,
        load_settings: Callable[[], Settings] = Settings,
    ):
        self._db, self._files, self.actor = database, files, actor
        self.load_settings = load_settings

    @property
    def _member_asks(self) -> bool:
        return not self.actor.is_trainer

    def _set(self, session: Session, set_id: int, alone: bool = False) -> TrainingSet:
        """A set that the acting person may see. alone: nobody else writes of it until the session ends."""
        row = session.get(TrainingSet, set_id, with_for_update=alone)
        if row is None:
            raise Refused
        own_or_trainer(self.actor, row.person_id)
        return row

    def _note_look(self, set_id: int) -> None:
        """Write down that a trainer looks at a clip, before it is given out."""
        if not self.actor.is_trainer:
            return
        by, day = self.actor.id, today()
        noted = select(Look.id).where(Look.set_id == set_id, Look.by_id == by, Look.day == day)
        with self._db.read() as session:
            if session.scalar(noted) is not None:
                return
        try:
            with self._db.write() as session:
                session.add(Look(set_id=set_id, by_id=by, day=day))
        except IntegrityError:  # noted at the same moment
            return

    def _add_decision(
        self, session: Session, set_id: int, finding: str, kind: str, words: str, at: float | None = None,
        place: told.Place | None = None, check: str = "", event: int | None = None,
    ) -> None:  # fmt: skip
        x, y = place or (None, None)
        report = queries.report(session, set_id)
        session.add(
            Decision(
                set_id=set_id, report_id=report.id if report else None, finding=finding, kind=kind,
                words=words, time_s=at, place_x=x, place_y=y, check_id=check or None, by_id=self.actor.id,
                event=event,
            )
        )  # fmt: skip

    def _withdraw(self, session: Session, set_id: int, *kept: str) -> None:
        """Take back what was decided of findings: a new check may number them anew.

        The note, moments that a trainer added, and what is named in ``kept`` stay.
        """
        for finding, said in queries.said(session, set_id).items():
            if said.kind != "added" and finding not in (told.NOTE, *kept):
                self._add_decision(session, set_id, finding, kind="withdrawn", words="")


class Review(Acting):
    """What trainers alone do with a set."""

    def waiting(self) -> list[queries.WaitingLine]:
        """All sets that wait for a trainer, most worrying first; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.waiting(session)

    def report(self, set_id: int) -> SetReport | None:
        """What the tool said, but for a doubt of the machine that a trainer has settled; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.read_of(session, set_id)

    def reports(self, set_ids: Sequence[int]) -> dict[int, SetReport]:
        """What was measured in several sets; for a member their own, of findings only limits not checked."""
        with self._db.read() as session:
            for set_id in set_ids:
                self._set(session, set_id)
            found = queries.reports(session, set_ids)
        if self._member_asks:
            return {k: r.model_copy(update={"findings": hidden_limits(r)}) for k, r in found.items()}
        return found

    def said(self, set_id: int) -> dict[str, told.Said]:
        """The last word on each finding; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.said(session, set_id)

    def decide(
        self, set_id: int, findings: Sequence[str], kind: str, words: str = "", event: int | None = None
    ) -> None:
        """Say something of findings: agree, reword, no-fault, withdrawn, or the note; for trainers.

        event: the number under which it was done at the desk; what comes twice is kept once.
        """
        trainer_only(self.actor)
        one_of(kind, ("agree", "reword", "no-fault", "withdrawn", "note"), "The decision")
        words = clean(words, "The words", 600, needed=kind == "reword")
        with self._db.write() as session:
            self._set(session, set_id, alone=True)
            if self._has_event(session, set_id, event):
                return
            for finding in findings:
                queries.check_finding(session, set_id, finding)
                self._add_decision(session, set_id, finding, kind, words, event=event)

    def add_moment(
        self, set_id: int, time_s: float, words: str, place: told.Place | None = None, check: str = "",
        event: int | None = None,
    ) -> None:  # fmt: skip
        """Add what the tool missed, at a moment (s) of the clip; for trainers.

        place: what the words point at, as shares of the picture's width and height. check: the one that
        should have seen it, empty where none is named. event: as in ``decide``.
        """
        trainer_only(self.actor)
        words = clean(words, "The prompt", 600, needed=True)
        for share in place or ():
            sound(share, "The place in the picture", low=0, high=1)
        with self._db.write() as session:
            has_check(self._set(session, set_id, alone=True).exercise, check)
            if self._has_event(session, set_id, event):
                return
            name = f"added:{_count_added(session, set_id) + 1}"
            at = sound(time_s, "The moment in seconds", low=0, high=36_000)
            self._add_decision(session, set_id, name, "added", words, at, place, check, event)

    def _has_event(self, session: Session, set_id: int, event: int | None) -> bool:
        """Whether the acting trainer's event of the desk is kept already."""
        own = (Decision.set_id == set_id, Decision.by_id == self.actor.id, Decision.event == event)
        return event is not None and session.scalar(select(Decision.id).where(*own).limit(1)) is not None

    def make_reference(self, set_id: int) -> None:
        """Show the member's later sets on this machine beside this one; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            if row.reviewed_at is None:
                raise UsageError("Hand this set over first; a reference is a set you have looked at.")
            kept = queries.reference(session, row.person_id, row.exercise)
            kept = kept or Reference(person_id=row.person_id, exercise=row.exercise)
            kept.set_id, kept.by_id, kept.at = row.id, self.actor.id, now()
            session.add(kept)

    def agreement(self, person_id: int | None = None) -> list[Agreement]:
        """How often trainers agree with each check, of one member or of all; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return agreement(session, person_id)

    def reference(self, person_id: int, exercise: str) -> int | None:
        """The id of the reference set, if there is one."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            found = queries.reference(session, person_id, exercise)
            return found.set_id if found else None


def _count_added(session: Session, set_id: int) -> int:
    """How many moments a trainer has added to a set, withdrawn ones too."""
    counted = select(func.count()).where(Decision.set_id == set_id, Decision.kind == "added")
    return session.scalar(counted) or 0


def there(person: Person | None) -> Person:
    """The person, or a refusal."""
    if person is None:
        raise Refused
    return person


def kept_member(session: Session, person_id: int) -> Person:
    """The member with that id, archived ones too, or a refusal."""
    person = there(session.get(Person, person_id))
    if person.role != "member" or not (person.active or person.archived_at):
        raise Refused
    return person


def member(session: Session, person_id: int) -> Person:
    """The member with that id, or a refusal."""
    person = kept_member(session, person_id)
    if not person.active:
        raise Refused
    return person
