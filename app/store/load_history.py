"""A member's kept sets as the history that the question about the load is asked of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from app.rules.history import LoadUnit, SetRecord
from app.store.models import TrainingSet

_UNITS: dict[str, LoadUnit] = {"kg": "kg", "lb": "lb"}


def load_history(rows: Sequence[TrainingSet], faults: Mapping[int, tuple[int, int]]) -> list[SetRecord]:
    """One record a set with load and count. faults: (flagged, dismissed) by set.

    Pain counts whatever else is known: where it was told without numbers or without a machine, it is
    laid on the last set of that machine, or of every machine, on or before that day.
    """
    known = [r for r in sorted(rows, key=lambda r: (r.done_on, r.id)) if _complete(r)]
    records = [
        SetRecord(
            r.done_on,
            r.exercise,
            r.load or 0.0,
            _UNITS[r.unit],
            r.count or 0,
            *faults.get(r.id, (0, 0)),
            r.pain,
        )
        for r in known
    ]
    for row in (r for r in rows if r.pain and not _complete(r)):
        for name in {r.exercise for r in records if row.exercise in ("", r.exercise)}:
            own = [i for i, r in enumerate(records) if r.exercise == name]
            at = max((i for i in own if records[i].day <= row.done_on), default=own[0])
            records[at] = replace(records[at], pain=True, day=max(records[at].day, row.done_on))
    return records


def _complete(row: TrainingSet) -> bool:
    return row.status == "checked" and row.load is not None and bool(row.count) and row.unit in _UNITS
