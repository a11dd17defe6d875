"""What a set is once its check has ended, which is decided here alone."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.store import queries
from app.store.models import TrainingSet
from shared.report import SetReport


def judged(session: Session, row: TrainingSet, report: SetReport) -> None:
    """Its check gave this report."""
    row.status = "checked" if report.quality.usable else "unfit"
    row.count, row.message = report.count, ""
    queries.rate(session, row)


def not_judged(session: Session, row: TrainingSet, why: str) -> None:
    """Its check gave none, and why in words: what was found before stays, where it is of this machine.

    A set that was to be checked as another machine's or as the other side has no count, see
    ``Handing.check_as``: its report is of what it is not.
    """
    kept = queries.report(session, row.id)
    before = SetReport.from_json(kept.body) if kept else None
    if before is not None and (before.exercise, before.count) == (row.exercise, row.count):
        judged(session, row, before)
    else:
        row.status = "failed"
    row.message = why
    queries.rate(session, row)
