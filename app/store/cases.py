"""What trainers' reviews say of the tool: each check held against their word, and their own counts."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased

from app.rules.cases import Judged, outcome
from app.rules.told import Said, latest
from app.store import queries
from app.store.models import Decision, Person, Report, TrainingSet
from app.store.review import Acting
from app.store.rules import Refused, has_check, sound, trainer_only
from shared.errors import UsageError

#: The newest reviewed sets alone are read; a busy studio sends some hundred a week.
MOST_SETS = 1000
MOST_REPS = 200


@dataclass(frozen=True)
class MissedLine:
    """A moment that a trainer added; check: the one that should have seen it, empty where none is named."""

    set_id: int
    finding: str
    member: str
    exercise: str
    done_on: date
    time_s: float
    words: str
    check: str


@dataclass(frozen=True)
class Counts:
    """Of so many reviewed sets with a count, how many a trainer counted otherwise."""

    sets: int
    corrected: int


class Cases(Acting):
    """What every review says of the tool."""

    def count_by_hand(self, set_id: int, count: int | None) -> None:
        """Keep a trainer's count of a set in the tool's place, None for the tool's; for trainers.

        The member reads it once the set is handed over again.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            if row.count is None:
                raise UsageError("This set was not counted; it can be corrected once its check has ended.")
            sound(count, "The count", low=0, high=MOST_REPS)
            row.counted = None if count == row.count else count

    def name_missed(self, set_id: int, finding: str, check: str) -> None:
        """Say which check should have seen an added moment, empty for none of them; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            row = self._set(session, set_id)
            last = _last_row(session, set_id, finding)
            if last is None or last.kind != "added":
                raise Refused
            has_check(row.exercise, check)
            kept = {
                c.key: getattr(last, c.key) for c in Decision.__table__.columns if c.key not in ("id", "at")
            }
            session.add(Decision(**kept | {"check_id": check or None, "by_id": self.actor.id}))

    def found(self, since: date) -> list[Judged]:
        """What became of each finding that a trainer spoke of, in sets done since that day; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            sets = reviewed(session, since, MOST_SETS)
            return [one for row, report, said in sets for one in _of_set(row, report, said)]

    def counts(self, since: date) -> Counts:
        """How often a trainer counted otherwise, in sets done since that day; for trainers."""
        trainer_only(self.actor)
        looked_at = TrainingSet.reviewed_at.is_not(None) | TrainingSet.counted.is_not(None)
        query = select(TrainingSet.counted).where(TrainingSet.count.is_not(None), looked_at)
        with self._db.read() as session:
            counts = session.scalars(query.where(TrainingSet.done_on >= since)).all()
        return Counts(len(counts), sum(n is not None for n in counts))

    def added(self, since: date, most: int = 30) -> list[MissedLine]:
        """What trainers added as missed in sets done since that day, newest first; for trainers."""
        trainer_only(self.actor)
        later = aliased(Decision)
        same = (later.set_id == Decision.set_id, later.finding == Decision.finding, later.id > Decision.id)
        query = (
            select(Decision, TrainingSet, Person.name)
            .join(TrainingSet, TrainingSet.id == Decision.set_id)
            .join(Person, Person.id == TrainingSet.person_id)
            .where(
                Decision.kind == "added",
                TrainingSet.done_on >= since,
                ~select(later.id).where(*same).exists(),
            )
            .order_by(TrainingSet.done_on.desc(), Decision.id.desc())
        )
        with self._db.read() as session:
            return [
                MissedLine(
                    d.set_id, d.finding, member=name, exercise=row.exercise, done_on=row.done_on,
                    time_s=d.time_s or 0.0, words=d.words, check=d.check_id or "",
                )
                for d, row, name in session.execute(query.limit(most))
            ]  # fmt: skip


def _last_row(session: Session, set_id: int, finding: str) -> Decision | None:
    of = (Decision.set_id == set_id, Decision.finding == finding)
    return session.scalar(select(Decision).where(*of).order_by(Decision.id.desc()).limit(1))


def reviewed(
    session: Session, since: date = date.min, most: int | None = None, in_order: bool = True
) -> Iterator[tuple[TrainingSet, Report, dict[str, Said]]]:
    """Each set of which a trainer spoke, the report that they spoke of, and the last word on each finding.

    A set that was checked again since goes by the newest report of which anything was said. in_order: the
    newest first, else by chance.
    """
    spoken = select(Decision.set_id).where(Decision.report_id.is_not(None))
    of = TrainingSet.id.in_(spoken) | TrainingSet.counted.is_not(None)
    query = select(TrainingSet).where(of, TrainingSet.done_on >= since)
    query = query.order_by(TrainingSet.id.desc() if in_order else func.random())
    for row in session.scalars(query.limit(most)).all():
        decisions = list(
            session.scalars(select(Decision).where(Decision.set_id == row.id).order_by(Decision.id))
        )
        newest = max((d.report_id for d in decisions if d.report_id is not None), default=None)
        report = session.get(Report, newest) if newest is not None else queries.report(session, row.id)
        if report is not None:
            of_report = [d for d in decisions if d.report_id == report.id]
            yield row, report, latest((d.finding, queries.said_of(d)) for d in of_report)


def _of_set(row: TrainingSet, report: Report, said: Mapping[str, Said]) -> Iterator[Judged]:
    week = row.done_on - timedelta(days=row.done_on.weekday())
    # read as it stands: a thousand reports are asked for their verdicts alone
    findings = json.loads(report.body)["findings"]
    verdicts = {f"{f['check']}:{'' if f['rep'] is None else f['rep']}": f["verdict"] for f in findings}
    for name, one in said.items():
        if one.kind == "added" and one.check:
            yield Judged(week, row.exercise, one.check, "missed")
        elif name in verdicts and (became := outcome(verdicts[name], one.kind)) is not None:
            yield Judged(week, row.exercise, name.split(":")[0], became)
