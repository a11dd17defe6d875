"""Names in a definition -> registered functions and typed parameters, before any frame is read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from shared.definition import hint
from shared.errors import DefinitionError
from shared.exercise import CheckSpec, Exercise
from vision.judging import checks  # noqa: F401  they register
from vision.judging.check import CHECKS, CheckFn, Traits
from vision.measuring.signals import SIGNALS
from vision.measuring.signals.signal import SignalFn

T = TypeVar("T")
Faults = list[tuple[str, str]]


@dataclass(frozen=True, kw_only=True)
class BoundCheck:
    """One check of a definition with its function, its parameters and what it is."""

    spec: CheckSpec
    function: CheckFn
    params: Any
    traits: Traits


@dataclass(frozen=True)
class Plan:
    """Functions and parameters, by signal name and in the order of the checks."""

    signals: dict[str, tuple[SignalFn, Any]]
    checks: tuple[BoundCheck, ...]


def bind(exercise: Exercise, file: Path | None = None) -> Plan:
    """Resolve an exercise's names.

    Raises
    ------
    DefinitionError : for every unknown kind, measure or parameter, and for every limit on a side that its
        check does not know, all at once.
    """
    faults: Faults = []
    signals = {}
    for name, signal in exercise.signals.items():
        if (
            known := _known(f"signals.{name}.kind", signal.kind, registered=SIGNALS, faults=faults)
        ) is not None:
            function, model = known
            signals[name] = function, _params(f"signals.{name}", signal.params, model=model, faults=faults)
    bound = [one for spec in exercise.checks if (one := _bound(spec, faults)) is not None]
    if faults:
        raise DefinitionError(file or Path(f"{exercise.name}.toml"), faults)
    return Plan(signals, tuple(bound))


def wanted_marks(exercise: Exercise) -> frozenset[str]:
    """Names of the marks on the machine that a check of the exercise asks for."""
    known = [CHECKS[spec.measure].traits.needs_mark for spec in exercise.checks if spec.measure in CHECKS]
    return frozenset(mark for mark in known if mark is not None)


def _bound(spec: CheckSpec, faults: Faults) -> BoundCheck | None:
    where = f"checks.{spec.id}"
    known = _known(f"{where}.measure", spec.measure, registered=CHECKS, faults=faults)
    if known is None:
        return None
    for side in ("at_least", "at_most"):
        if getattr(spec.limit, side) is not None and side not in known.traits.limit:
            only = " and ".join(known.traits.limit)
            faults.append((f"{where}.limit", f"{spec.measure} knows {only} only, not {side}"))
    if known.traits.needs_signal and spec.signal is None:
        faults.append((f"{where}.signal", f"is missing: {spec.measure} looks at one"))
    params = _params(where, spec.params, model=known.params, faults=faults)
    return BoundCheck(spec=spec, function=known.function, params=params, traits=known.traits)


def _known(where: str, name: str, registered: Mapping[str, T], faults: Faults) -> T | None:
    """What is registered under a name; None, and a fault, where nothing is."""
    if name not in registered:
        faults.append((where, f"there is no {name!r}{hint(name, registered)}"))
    return registered.get(name)


def _params(where: str, params: dict[str, Any], model: type[BaseModel], faults: Faults) -> BaseModel | None:
    """Typed parameters; None, and the faults, where they do not fit."""
    try:
        return model.model_validate(params)
    except ValidationError as error:
        for fault in error.errors():
            place = ".".join(str(p) for p in fault["loc"])
            faults.append((f"{where}.params.{place}", str(fault["msg"])))
        return None
