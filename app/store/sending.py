"""A set as it is sent: its clip is kept once, and only where somebody agreed to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, BinaryIO

from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.rules.other_machine import MACHINE
from app.rules.pain import STOPPED
from app.rules.second_clip import replaceable
from app.rules.states import PAIN_ALONE
from app.store import queries, tellings
from app.store.belongings import drop_unreferenced
from app.store.check_again import check_again
from app.store.files import Files
from app.store.models import Job, TrainingSet
from app.store.pain import Pain
from app.store.review import member
from app.store.rules import (
    NOT_AGREED,
    UNITS,
    clean,
    known_exercise,
    not_ahead,
    one_of,
    own_or_trainer,
    since_joined,
    sound_load,
)
from shared.errors import UsageError


@dataclass(frozen=True)
class NewSet:
    """What is told with a clip. load in ``unit``; side: the working side where only one works."""

    person_id: int
    exercise: str
    done_on: date
    load: float | None = None
    unit: str = "kg"
    side: str | None = None
    pain_before: bool = False
    pain_where: str = ""


class Sending(Pain):
    """How a set comes into the store."""

    def add_set(self, new: NewSet, clip: BinaryIO | None, clip_name: str = "") -> tuple[int, bool]:
        """Keep a set and have its clip checked; for the member and for trainers.

        Returns its id, and whether this member had sent the very same clip before: then nothing is
        added but pain, and the load where none was told before. Without a clip only pain is told.
        """
        own_or_trainer(self.actor, new.person_id)
        values = set_values(new, machine_needed=clip is not None)
        if clip is None and not new.pain_before:
            raise UsageError("There is no clip; choose the one you filmed.")
        with self._db.read() as session:
            may_send(session, new, clip is not None)
        name = clean(Path(clip_name).name, "The file's name", 10_000)[-200:]
        values |= {"clip": None, "clip_name": name, "status": PAIN_ALONE}
        if clip is None:
            return self._keep_set(values, new)
        with self._keeping(clip) as address:
            values |= {"clip": address, "status": "checking"}
            try:
                return self._keep_set(values, new)
            except IntegrityError:  # the same clip, sent twice at once
                return self._keep_set(values, new)

    def may_send(self, new: NewSet) -> None:
        """Refuse before its clip is sent whatever ``add_set`` would refuse with it."""
        own_or_trainer(self.actor, new.person_id)
        set_values(new, machine_needed=True)
        with self._db.read() as session:
            may_send(session, new, clip=True)

    def may_pair(self, set_id: int) -> int:
        """Refuse before it is sent a second clip that ``add_second`` would refuse; gives whose set it is."""
        with self._db.read() as session:
            row = self._set(session, set_id)
            _may_pair(session, row)
            return row.person_id

    def add_second(self, set_id: int, clip: BinaryIO, clip_name: str) -> None:
        """Keep a clip of the same set from another side, and have both checked together.

        For the member and for trainers; the set waits to be looked at again, and what was decided of the old
        findings is withdrawn. It takes the place of a second clip that could not be used.
        """
        self.may_pair(set_id)
        name = clean(Path(clip_name).name, "The file's name", 10_000)[-200:]
        with self._keeping(clip) as address, self._db.write() as session:
            row = self._set(session, set_id)
            _may_pair(session, row)
            if address == row.clip:
                raise UsageError(
                    "This is the clip that the set has already; choose the one from the other side."
                )
            before = row.second_clip
            row.second_clip, row.second_name, row.reviewed_at = address, name, None
            self._withdraw(session, set_id, MACHINE)
            check_again(session, row)
            self._files.path(address)  # an erasure may have taken the same clip of someone else away
            drop_unreferenced(session, self._files, [before] if before else [])

    @contextmanager
    def _keeping(self, clip: BinaryIO) -> Iterator[str]:
        """The address of a clip, which goes again where its set is refused after all.

        What would refuse it, such as pain, may be told while a big clip is being kept.
        """
        address = self._files.keep(clip)
        try:
            yield address
        except UsageError:
            with self._db.write() as session:
                drop_unreferenced(session, self._files, [address])
            raise

    def _keep_set(self, values: Mapping[str, Any], new: NewSet) -> tuple[int, bool]:
        with self._db.write() as session:
            may_send(session, new, values["clip"] is not None)
            row, known = added(session, self._files, values)
            if new.pain_before:
                self._tell(session, row, before=True, where=values["pain_where"])
            return row.id, known


def added(session: Session, files: Files, values: Mapping[str, Any]) -> tuple[TrainingSet, bool]:
    """Add a set and have its clip checked; gives it, and whether this member had sent the clip before.

    The load told with it is kept then where the set has none and is of the same machine.
    """
    row = TrainingSet(**values)
    if row.clip and (known := queries.set_of_clip(session, row.person_id, row.clip)):
        if known.load is None and row.load is not None and known.exercise == row.exercise:
            known.load, known.unit = row.load, row.unit
        return known, True
    queries.rate(session, row)
    session.add(row)
    session.flush()
    if row.clip:
        files.path(row.clip)  # an erasure may have taken the same clip of someone else away
        session.add(Job(set_id=row.id))
    return row, False


def may_send(session: Session, new: NewSet, clip: bool) -> None:
    """Refuse a clip nobody agreed to, a set from before the member joined, and one while pain stops them.

    A set that is told with its pain is taken: the trainer sees it first.
    """
    person = member(session, new.person_id)
    since_joined(person.created_at, new.done_on)
    if clip and person.consent_at is None:
        raise UsageError(NOT_AGREED)
    if not new.pain_before and tellings.stopped(session, new.person_id):
        raise UsageError(STOPPED)


def _may_pair(session: Session, row: TrainingSet) -> None:
    """Refuse a second clip where pain stops the member, and where there is no first one to pair it with."""
    member(session, row.person_id)
    if tellings.stopped(session, row.person_id):
        raise UsageError(STOPPED)
    if row.clip is None or row.clip_dropped_at is not None or row.binned_at is not None:
        raise UsageError("The first clip of this set is not kept; send the new one as a set of its own.")
    if row.status == "checking":
        raise UsageError("This set is still being checked; add the second clip when that is done.")
    if row.second_clip is not None and not replaceable(queries.read_of(session, row.id), row.message):
        raise UsageError("This set has two clips already.")


def set_values(new: NewSet, machine_needed: bool) -> dict[str, Any]:
    """What is told of a set as its row keeps it; UsageError for what cannot be kept."""
    return {
        "person_id": new.person_id,
        "exercise": known_exercise(new.exercise) if new.exercise or machine_needed else "",
        "done_on": not_ahead(new.done_on),
        "load": sound_load(new.load, new.unit),
        "unit": one_of(new.unit, UNITS, "The unit"),
        "side": one_of(new.side, ("left", "right"), "The side"),
        "pain_before": new.pain_before,
        "pain_where": clean(new.pain_where, "Where it hurts", 300),
    }
