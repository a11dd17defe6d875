"""Names in a definition -> registered functions and typed parameters, before any frame is read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from shared.errors import DefinitionError
from shared.exercise import CheckSpec, Exercise, hint
from vision.judging import checks_course, checks_ends, checks_marks, checks_set  # noqa: F401  they register
from vision.judging.checks import CHECKS, CheckFn
from vision.measuring import signals_places  # noqa: F401  they register
from vision.measuring.signals import SIGNALS, SignalFn


@dataclass(frozen=True)
class Plan:
    """Functions and parameters, by signal name and in the order of the checks."""

    signals: dict[str, tuple[SignalFn, Any]]
    checks: tuple[tuple[CheckSpec, CheckFn, Any], ...]


def bind(exercise: Exercise, file: Path | None = None) -> Plan:
    """Resolve an exercise's names.

    Raises
    ------
    DefinitionError : for every unknown kind, measure or parameter, all at once.
    """
    faults: list[tuple[str, str]] = []
    signals = {}
    for name, signal in exercise.signals.items():
        found = _resolve(f"signals.{name}", "kind", signal.kind, signal.params, SIGNALS, faults)
        if found is not None:
            signals[name] = found
    checks = []
    for spec in exercise.checks:
        found = _resolve(f"checks.{spec.id}", "measure", spec.measure, spec.params, CHECKS, faults)
        if found is not None:
            checks.append((spec, *found))
    if faults:
        raise DefinitionError(file or Path(f"{exercise.name}.toml"), faults)
    return Plan(signals, tuple(checks))


def _resolve(
    where: str, key: str, name: str, params: dict[str, Any], known: Any, faults: list[tuple[str, str]]
) -> tuple[Any, BaseModel] | None:
    if name not in known:
        faults.append((f"{where}.{key}", f"there is no {name!r}{hint(name, known)}"))
        return None
    function, model = known[name]
    try:
        return function, model.model_validate(params)
    except ValidationError as error:
        for fault in error.errors():
            place = ".".join(str(p) for p in fault["loc"])
            faults.append((f"{where}.params.{place}", str(fault["msg"])))
        return None
