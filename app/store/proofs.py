"""What printed tags proved of the studio's own sets, and whether later checks go by it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session, aliased

from app.rules.proof import ClipProof, clip_proof, numbers
from app.store import queries
from app.store.models import Person, Report, TrainingSet
from app.store.room import Rooms
from app.store.rules import trainer_only
from shared.errors import UsageError
from shared.proof import FEW_CLIPS, Proof
from shared.report import SetReport

#: The newest sets alone are read; a report with a tag says so in these words.
MOST_SETS = 500
_WITH_TAG = '"tag": true'


@dataclass(frozen=True)
class ProvenSet:
    """One set with a tag, and what it proves."""

    set_id: int
    member: str
    done_on: date
    proof: ClipProof


class Proofs(Rooms):
    """The tool held against the machine itself: trainers read it, the owner has checks go by it."""

    def proven(self) -> list[ProvenSet]:
        """The newest sets with a followed stack or lever tag, newest first; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return _proven(session)

    def kept_proof(self) -> Proof | None:
        """What later checks go by, None where they tell as surely as ever; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return proof_of(session)

    def keep_proof(self, on: bool) -> None:
        """Have later checks go by what is proved now, or as surely as ever again; for the owner.

        What is kept stays as it is, however many sets follow, until it is kept anew.
        """
        self._owner_only()
        if not on:
            self._keep_studio(proof=None)
            return
        found = numbers([one.proof for one in self.proven()])
        if not any(machine.clips >= FEW_CLIPS for machine in found.machines.values()):
            raise UsageError(
                f"Too little is proved: one machine needs {FEW_CLIPS} sets filmed with its tags."
            )
        self._keep_studio(proof=found.model_dump(mode="json", by_alias=True))


def proof_of(session: Session) -> Proof | None:
    """What checks go by."""
    kept = queries.studio(session).proof
    return None if kept is None else Proof.model_validate(kept)


def _proven(session: Session) -> list[ProvenSet]:
    later = aliased(Report)
    newer = select(later.id).where(later.set_id == Report.set_id, later.version > Report.version)
    query = (
        select(TrainingSet, Person.name, Report.body)
        .join(Report, Report.set_id == TrainingSet.id)
        .join(Person, Person.id == TrainingSet.person_id)
        .where(Report.body.contains(_WITH_TAG), ~newer.exists())
        .order_by(TrainingSet.done_on.desc(), TrainingSet.id.desc())
        .limit(MOST_SETS)
    )
    found = []
    for row, name, body in session.execute(query):
        proof = clip_proof(SetReport.from_json(body))
        if proof is not None:
            found.append(ProvenSet(row.id, name, row.done_on, proof))
    return found
