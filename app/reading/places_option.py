"""``--places report.json``: where a machine's parts lie against its frame board, as a marked clip told it."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from shared.definition import checked, read_json
from shared.errors import DefinitionError

if TYPE_CHECKING:
    from shared.exercise import Exercise
    from shared.places import Sight


def read_places(paths: Iterable[Path], exercise: Exercise) -> tuple[Sight, ...]:
    """What the reports of marked clips say, in their order: of two that do not agree the last one holds.

    Raises
    ------
    DefinitionError : a file is no report, is of another machine, or holds no place.
    """
    return tuple(sight for path in paths for sight in _sights(path, exercise))


def _sights(path: Path, exercise: Exercise) -> list[Sight]:
    from shared.report import SetReport

    report = checked(SetReport, read_json(path), path)
    if report.exercise != exercise.name:
        said = f"is of {report.exercise[:40]!r}, and this set is {exercise.name!r}"
        raise DefinitionError(path, [("exercise", said)])
    sights = report.machine.sights if report.machine is not None else []
    if not sights:
        said = "holds no place of a part; give the report of a clip that shows the frame board, with pivot, "
        raise DefinitionError(path, [("machine.sights", f"{said}pad or seat marked")])
    return sights
