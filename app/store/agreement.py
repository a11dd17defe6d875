"""How often trainers agree with each check, and which limit deserves a second look; nothing is changed."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from statistics import median
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, aliased

from app.rules.told import key_of
from app.store import queries
from app.store.models import Decision, TrainingSet
from shared.exercise import CheckSpec
from shared.faults import is_own_range
from shared.report import FindingPart
from vision.common.quantities import quantity
from vision.telling.words import definition_limit

KINDS = ("agree", "reword", "no-fault")
#: So many dismissals, and such a share of all decisions, make a limit worth a second look.
ENOUGH, SHARE = 5, 0.5
#: To which step a suggested bound is rounded, by unit; 1 for the others.
STEPS: Mapping[str, float] = {"s": 0.1, "ratio": 0.05}
#: The newest dismissals alone are read again for what was measured.
READ_AGAIN = 30


@dataclass(frozen=True)
class Agreement:
    """What trainers said of one check on one machine; dismissed holds the findings called no fault."""

    exercise: str
    check: str
    agreed: int
    reworded: int
    dismissed: int
    seen: tuple[FindingPart, ...] = ()

    @property
    def total(self) -> int:
        """All findings that were decided."""
        return self.agreed + self.reworded + self.dismissed

    @property
    def doubtful(self) -> bool:
        """Whether the check is dismissed again and again."""
        return self.dismissed >= ENOUGH and self.dismissed >= SHARE * self.total


def agreement(session: Session, person_id: int | None = None) -> list[Agreement]:
    """Every check that was decided upon, the most dismissed first; of one member where one is named."""
    counts: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    per_finding = select(TrainingSet.exercise, Decision.finding, Decision.kind, func.count())
    grouped = _last_said(per_finding, person_id).group_by(
        TrainingSet.exercise, Decision.finding, Decision.kind
    )
    for exercise, finding, kind, n in session.execute(grouped):
        counts[exercise, finding.split(":")[0]][kind] += n
    lines = [Agreement(*check, n["agree"], n["reword"], n["no-fault"]) for check, n in counts.items()]
    lines = [replace(line, seen=_seen(session, line, person_id)) if line.doubtful else line for line in lines]
    return sorted(lines, key=lambda line: (-line.dismissed, -line.total, line.exercise, line.check))


def _last_said(query: Select[*tuple[Any, ...]], person_id: int | None) -> Select[*tuple[Any, ...]]:
    """A query over the last decision on each finding, of one member where one is named."""
    later = aliased(Decision)
    same = (later.set_id == Decision.set_id, later.finding == Decision.finding, later.id > Decision.id)
    query = query.join(TrainingSet, TrainingSet.id == Decision.set_id).where(
        Decision.kind.in_(KINDS), ~select(later.id).where(*same).exists()
    )
    return query if person_id is None else query.where(TrainingSet.person_id == person_id)


def _seen(session: Session, line: Agreement, person_id: int | None) -> tuple[FindingPart, ...]:
    """The newest findings of a check that were called no fault."""
    query = _last_said(select(Decision.set_id, Decision.finding), person_id)
    of = Decision.kind == "no-fault", Decision.finding.startswith(f"{line.check}:", autoescape=True)
    query = query.where(TrainingSet.exercise == line.exercise, *of).order_by(Decision.id.desc())
    wanted = {(set_id, finding) for set_id, finding in session.execute(query.limit(READ_AGAIN))}
    reports = queries.reports(session, sorted({set_id for set_id, _ in wanted}))
    return tuple(f for i, report in reports.items() for f in report.findings if (i, key_of(f)) in wanted)


def suggestion(line: Agreement, spec: CheckSpec | None) -> str:
    """What to think about where a check is dismissed again and again; empty otherwise.

    spec: the check as it is for the member; None where their card bounds that end with a number instead,
    which no answer of ours may widen.
    """
    values = _measured(line)
    if not line.doubtful or spec is None or is_own_range(spec.id) or not values:
        return ""
    middle = quantity(median(values), line.seen[0].unit)
    return (
        f"{line.dismissed} of {line.total} were called no fault, with {middle} in the middle of what was "
        f"measured; the limit is {definition_limit(spec)}. Nothing changes by itself."
    )


def proposed(line: Agreement, spec: CheckSpec | None) -> dict[str, float] | None:
    """The bound under which half of the dismissed findings would not have been flagged.

    {at_most or at_least: number in the check's unit}; None where nothing is suggested, or where the
    limit has two sides or is a length.
    """
    if not suggestion(line, spec) or spec is None or spec.limit.is_length:
        return None
    low, high = spec.limit.resolved(in_cm=True)
    if (low is None) == (high is None):
        return None
    step, middle = STEPS.get(spec.unit, 1.0), median(_measured(line))
    if high is not None:
        bound = math.ceil(middle / step) * step
        return {"at_most": round(bound, 6)} if bound > high else None
    bound = math.floor(middle / step) * step
    return {"at_least": round(bound, 6)} if low is not None and bound < low else None


def _measured(line: Agreement) -> list[float]:
    return [f.measured for f in line.seen if f.measured is not None]
