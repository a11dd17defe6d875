"""The hand-out of a set: as the check left it, or drawn anew where a trainer decided otherwise."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy.orm import Session

from app.rules.handed import as_checked, handed
from app.rules.other_machine import MACHINE, doubt_of
from app.rules.room import Room
from app.rules.words import CARD_WORDS, day_words, exercise_of
from app.store import queries, tellings, told_sets
from app.store.models import Card, Report, TrainingSet
from app.store.review import Acting
from app.store.rules import trainer_only
from vision.telling.files import HANDOUT
from vision.telling.handout import Handout

if TYPE_CHECKING:
    from vision.telling.stills import Still


@dataclass(frozen=True)
class Sheet:
    """What the hand-out says. kept: the one that came with the check, where it still says that.

    shown, rep: the picture of what is to change, and its repetition.
    """

    page: Handout
    kept: str | None
    shown: str | None
    rep: int | None


class Handouts(Acting):
    """What a trainer gives a member to take along."""

    def has_handout(self, set_id: int) -> bool:
        """Whether there is a hand-out: none with pain, or where the machine is in doubt; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return self._sheet(session, self._set(session, set_id)) is not None

    def handout(self, set_id: int) -> bytes | None:
        """The hand-out as a PNG, as decided now; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            found = self._sheet(session, self._set(session, set_id))
        if found is None:
            return None
        self._note_look(set_id)
        if found.kept is not None:
            return self._files.path(found.kept).read_bytes()
        return _drawn(found.page, self._read(found.shown), found.rep)

    def _sheet(self, session: Session, row: TrainingSet) -> Sheet | None:
        kept, exercise = queries.report(session, row.id), exercise_of(row.exercise)
        if kept is None or exercise is None or row.status != "checked" or row.pain:
            return None
        report = told_sets.counted(session, row)
        room, said = queries.room(session), queries.said(session, row.id)
        if report is None or not report.quality.usable or tellings.stopped(session, row.person_id):
            return None
        if MACHINE not in said and doubt_of(report) is not None:
            return None
        content = told_sets.to_release(session, row, self.actor.name)
        known = tuple(facts(row, queries.card(session, row.person_id, row.exercise), room))
        as_it_came = row.counted is None and as_checked(report, content, said) and known == _known_then(kept)
        files = {} if row.binned_at is not None else {one["finding"]: one["file"] for one in kept.pictures}
        first = next((one for one in content.prompts if one.check), None)
        shown = first.picture or "" if first else ""
        rep = shown.rpartition(":")[2]
        return Sheet(
            handed(report, exercise, content, said, known),
            kept=files.get(HANDOUT) if as_it_came else None,
            shown=files.get(shown), rep=int(rep) if rep.isdigit() else None,
        )  # fmt: skip

    def _read(self, address: str | None) -> bytes | None:
        return self._files.path(address).read_bytes() if address and self._files.there(address) else None


def _known_then(kept: Report) -> tuple[tuple[str, ...], ...] | None:
    """The facts on the hand-out that came with the check; None where they were not kept with it."""
    found = next((one.get("facts") for one in kept.pictures if one["finding"] == HANDOUT), None)
    return None if found is None else tuple(tuple(fact) for fact in found)


def _drawn(page: Handout, picture: bytes | None, rep: int | None) -> bytes:
    from vision.telling.handout_picture import handout_png

    return handout_png(page, None, None if picture is None or rep is None else _still(picture, rep))


def _still(picture: bytes, rep: int) -> Still | None:
    """A kept JPEG as a still; None where it cannot be read."""
    import cv2
    import numpy as np

    from vision.telling.stills import Still

    found = cv2.imdecode(np.frombuffer(picture, np.uint8), cv2.IMREAD_COLOR)
    if found is None:
        return None
    return Still(np.asarray(cv2.cvtColor(found, cv2.COLOR_BGR2RGB), dtype=np.uint8), rep)


def facts(row: TrainingSet, card: Card | None, room: Room) -> Iterator[tuple[str, str]]:
    """What the hand-out says of the set beside what was seen."""
    yield "Date", day_words(row.done_on, date.min)
    if row.load is not None:
        yield "Load", room.load_words(row.load, row.unit)
    for setting, word in CARD_WORDS.items():
        if card is not None and getattr(card, setting):
            yield word, str(getattr(card, setting))
