"""A member's kept sets as the history that the question about the load is asked of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast, get_args

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.rules import told
from app.rules.history import LoadUnit, SetRecord
from app.rules.room import Room
from app.store import queries
from app.store.models import Decision, TrainingSet
from shared.report import SetReport
from vision.measuring.reps.tempo import late_over_early


@dataclass(frozen=True)
class SetFacts:
    """Of one judged set: faults flagged, of these called no fault, and how much slower it ended, in %."""

    flags: int = 0
    dismissed: int = 0
    slowed: float | None = None


def set_facts(session: Session, set_ids: Sequence[int]) -> dict[int, SetFacts]:
    """The facts of each set that has a report."""
    query = select(Decision).where(Decision.set_id.in_(set_ids)).order_by(Decision.id)
    by_set: dict[int, list[tuple[str, told.Said]]] = {}
    for d in session.scalars(query):
        by_set.setdefault(d.set_id, []).append((d.finding, told.Said(d.kind, d.words, d.time_s)))
    out = {}
    for set_id, kept in queries.reports(session, set_ids).items():
        last = told.latest(by_set.get(set_id, []))
        flags = [told.key_of(f) for f in kept.flags()]
        dismissed = sum(key in last and last[key].kind == "no-fault" for key in flags)
        out[set_id] = SetFacts(len(flags), dismissed, slowed_percent(kept))
    return out


def slowed_percent(report: SetReport) -> float | None:
    """By how many percent the last three full repetitions took longer than the first half; None: too few."""
    ratio = late_over_early([r.lift_s + r.lower_s for r in report.reps if not r.partial])
    return None if ratio is None else 100 * (ratio - 1)


def load_history(rows: Sequence[TrainingSet], facts: Mapping[int, SetFacts], room: Room) -> list[SetRecord]:
    """One record a set with load and count, in the order in which they were done. facts: by set.

    Loads are in the room's unit.

    Pain counts whatever else is known: where it was told without numbers or without a machine, it is
    laid on the last set of that machine, or of every machine, on or before that day.
    """
    records = [
        _record(row, facts.get(row.id, SetFacts()), room)
        for row in sorted(rows, key=lambda r: (r.done_on, r.id))
        if _complete(row)
    ]
    for row in (r for r in rows if r.pain and not _complete(r)):
        for name in {r.exercise for r in records if row.exercise in ("", r.exercise)}:
            own = [i for i, r in enumerate(records) if r.exercise == name]
            at = max((i for i in own if records[i].day <= row.done_on), default=own[0])
            records[at] = replace(records[at], pain=True, day=max(records[at].day, row.done_on))
    return records


def _record(row: TrainingSet, facts: SetFacts, room: Room) -> SetRecord:
    load, unit = room.load(row.load, row.unit)
    return SetRecord(
        row.done_on, row.exercise, load=load or 0.0, unit=cast(LoadUnit, unit),
        repetitions=row.reps or 0, flags=facts.flags, dismissed=facts.dismissed, pain=row.pain,
        feeling=row.feeling, slowed=facts.slowed, set_id=row.id,
    )  # fmt: skip


def _complete(row: TrainingSet) -> bool:
    told_load = bool(row.load) and row.unit in get_args(LoadUnit)
    return row.status == "checked" and told_load and bool(row.reps)
