"""The catalogue of faults, ``shared/faults.toml``: what a fault is, on all machines."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from shared.definition import hint, read_toml
from shared.errors import DefinitionError

CATALOGUE = Path(__file__).parent / "faults.toml"
#: The table of the catalogue that is no fault: rules for all of them.
RULES = "rules"
#: What a fault is on all machines: asked of the catalogue by a check's id, so no exercise can say otherwise.
OF_ALL_MACHINES = ("fact", "grave", "joins", "order")
#: How worrying a fault is where the catalogue says nothing, as any posture; the smaller, the more.
USUAL_ORDER = 28
#: What the checks that hold a member to a limit of their own begin with; only pain worries more.
OWN_RANGE = "own-range-"
OWN_LIMIT_ORDER = 11


@cache
def _read() -> dict[str, Any]:
    return read_toml(CATALOGUE)


def catalogue() -> dict[str, dict[str, Any]]:
    """Every fault by its id, as the file has it; raises DefinitionError where it cannot be read."""
    return {fault: dict(fields) for fault, fields in _read().items() if fault != RULES}


def is_grave(check: str) -> bool:
    """Whether a fault takes a joint to its end under load; one of a user's own is not."""
    return bool(catalogue().get(check, {}).get("grave", False))


def is_fact(check: str) -> bool:
    """Whether a check tells a fact of the set that is no fault: it is never flagged, nor to be settled."""
    return bool(catalogue().get(check, {}).get("fact", False))


def is_own_range(check: str) -> bool:
    """Whether a check holds a member to their own range."""
    return check.startswith(OWN_RANGE)


def order_of(check: str) -> int:
    """Which fault to speak of first: the smaller, the sooner."""
    if is_own_range(check):
        return OWN_LIMIT_ORDER
    return int(catalogue().get(check, {}).get("order", USUAL_ORDER))


def joins(check: str) -> tuple[str, ...]:
    """The faults of which this one is another sight, the likeliest first."""
    return tuple(catalogue().get(check, {}).get("joins", ()))


def completed(path: Path, data: Mapping[str, Any], target: tuple[int, int]) -> list[Any]:
    """The checks of a definition with what they leave out, from the catalogue.

    data: the whole definition, its shape not checked yet; target: the repetitions where it names none, which
    are the limit of a check that asks for "target_reps".

    Raises
    ------
    DefinitionError : a fault that the catalogue does not know, or what only the catalogue says of one.
    """
    faults = catalogue()
    merged = []
    for check in data["checks"]:
        if not isinstance(check, dict) or not isinstance(check.get("id"), str):
            merged.append(check)
            continue
        if check["id"] not in faults and "measure" not in check:
            said = f"no such fault in the catalogue{hint(check['id'], faults)}"
            raise DefinitionError(path, [(f"checks.{check['id']}", said)])
        if wrong := [key for key in OF_ALL_MACHINES if key in check]:
            said = "is said by the catalogue of faults, for all machines alike: leave it out here"
            raise DefinitionError(path, [(f"checks.{check['id']}.{key}", said) for key in wrong])
        full = {**faults.get(check["id"], {}), **check}
        if full.get("limit") == "target_reps":
            given = data.get("target_reps")
            pair = isinstance(given, list) and len(given) == 2 and all(type(n) is int for n in given)
            low, high = given if pair and given else target
            full["limit"] = {"at_least": low, "at_most": high}
        merged.append(_filled(full, data.get("signals")))
    return merged


def _filled(check: dict[str, Any], signals: object) -> dict[str, Any]:
    """The check with the parameters of its signal in the words that name them."""
    signal = signals.get(check.get("signal")) if isinstance(signals, dict) else None
    params = signal.get("params") if isinstance(signal, dict) else None
    words = check.get("what")
    if not isinstance(params, dict) or not isinstance(words, str):
        return check
    for name, value in params.items():
        words = words.replace(f"{{{name}}}", f"{value}")
    return {**check, "what": words}


#: How sure a flag is: its one-sided bound of this certainty lies beyond the limit.
FLAG_CERTAINTY = float(_read()[RULES]["flag_certainty"])
