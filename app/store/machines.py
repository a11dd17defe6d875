"""What a studio keeps of its machines: the tempo asked of everybody, and where parts were marked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from sqlalchemy.orm import Session

from app.rules.machine_marks import from_board, of_the_machine, sound_marks
from app.rules.other_machine import MACHINE
from app.store import queries
from app.store.cards import fill_tempo
from app.store.check_again import check_again
from app.store.models import MachineMarks, TrainingSet
from app.store.review import Acting
from app.store.rules import own_or_trainer, trainer_only
from shared.errors import UsageError
from shared.exercise import Motion, Tempo, find_exercise
from shared.report import SetReport

NOT_YET = "This set can be marked once its clip has been checked."


class Machines(Acting):
    """What is kept of machines."""

    def studio_tempo(self) -> Tempo | None:
        """The tempo that is asked of everybody; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return queries.tempo_of(queries.studio(session))

    def ask_tempo(self, lift_s: float | None, lower_s: float | None) -> None:
        """Ask a tempo of everybody from the next set on, None for none; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            kept = queries.studio(session)
            fill_tempo(kept, {"lift_s": lift_s, "lower_s": lower_s}, Motion())
            kept.changed_by = self.actor.id
            session.add(kept)

    def asked_tempo(self, person_id: int, exercise: str) -> Tempo | None:
        """The tempo that is asked of a member on a machine: their card's, else the studio's."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return queries.asked_tempo(session, person_id, exercise)

    def mark_set(self, set_id: int, points: Sequence[Mapping[str, Any]]) -> None:
        """Check a set anew by points of its machine, and keep them for the machine's next clip; for trainers.

        points: {name, x, y, time_s}, pixels of the upright picture. What was decided of the old findings is
        withdrawn.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            clip = _checked(session, row).clip
            found = sound_marks(
                points, find_exercise(row.exercise), (clip.width, clip.height), clip.duration_s
            )
            row.marks = [asdict(point) for point in found]
            self._withdraw(session, set_id, MACHINE)
            check_again(session, row)
            kept = session.get(MachineMarks, row.exercise) or MachineMarks(exercise=row.exercise)
            kept.points, kept.by_id = row.marks, self.actor.id
            kept.width, kept.height = clip.width, clip.height
            session.add(kept)

    def offered_marks(self, set_id: int) -> list[dict[str, Any]]:
        """Where the machine's parts lay in the clip that was marked last, to be looked at; for trainers.

        Empty where this set was marked, and where nothing of its machine was in a picture of this size. What
        its check took from the frame board is left out.
        """
        trainer_only(self.actor)
        with self._db.read() as session:
            row = self._set(session, set_id)
            kept = session.get(MachineMarks, row.exercise)
            if kept is None or row.marks or row.status == "checking":
                return []
            report = _checked(session, row)
            if (report.clip.width, report.clip.height) != (kept.width, kept.height):
                return []
            found = from_board(report)
            return [p for p in of_the_machine(kept.points) if p["name"] not in found]


def _checked(session: Session, row: TrainingSet) -> SetReport:
    """The report of a set; UsageError where there is none yet."""
    kept = queries.report(session, row.id)
    if kept is None or row.status == "checking":
        raise UsageError(NOT_YET)
    return SetReport.from_json(kept.body)
