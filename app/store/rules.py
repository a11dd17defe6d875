"""Who may do what, and what may be written down: the rules that ``access`` applies everywhere."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, TypeVar, cast, get_args

from app.rules.history import MAX_LOAD, LoadUnit
from app.rules.states import Role
from app.store.base import day_of, today
from shared.errors import UsageError
from shared.exercise import CheckSpec, exercise_names, find_exercise

NOT_AGREED = "Nobody has agreed to this member being filmed; tick the agreement on the page Film first."
Name = TypeVar("Name", bound=str)
UNITS: tuple[LoadUnit, ...] = get_args(LoadUnit)
#: The most that a field for a load takes, whatever its unit; ``sound_load`` knows each unit's own.
LOAD_HIGH = max(MAX_LOAD.values())


@dataclass(frozen=True)
class Actor:
    """The person who acts; ``access`` looks the rest up itself."""

    id: int
    name: str
    role: Role | Literal["station"]

    @property
    def is_trainer(self) -> bool:
        """Whether the person is a trainer."""
        return self.role == "trainer"


class Refused(UsageError):
    """The acting person may not do this; says no more than that, so that ids cannot be tried out."""

    def __init__(self) -> None:
        super().__init__("There is nothing here for you to see or change.")


def trainer_only(actor: Actor) -> None:
    """Refuse everyone but a trainer."""
    if not actor.is_trainer:
        raise Refused


def own_or_trainer(actor: Actor, person_id: int) -> None:
    """Refuse a member who reaches for another one's."""
    if not actor.is_trainer and actor.id != person_id:
        raise Refused


def clean(text: str | None, what: str, most: int, needed: bool = False) -> str:
    """Text as it is kept: without control characters, not too long.

    Raises
    ------
    UsageError : it is too long, or empty where it is needed.
    """
    kept = "".join(
        c for c in text or "" if c in "\n\t" or unicodedata.category(c) not in ("Cc", "Cs")
    ).strip()
    if needed and not kept:
        raise UsageError(f"{what} is empty; write something first.")
    if len(kept) > most:
        raise UsageError(f"{what} is too long: {len(kept)} characters, at most {most}; shorten it.")
    return kept


def sound_email(text: str | None) -> str | None:
    """An e-mail address in small letters, None for an empty one; UsageError where it is none."""
    email = clean((text or "").casefold(), "The e-mail address", 254)
    if email and not re.fullmatch(r"[^\s@]+@[^\s@]+", email):
        raise UsageError("This is no e-mail address; write it like name@studio.example.")
    return email or None


def known_exercise(name: str) -> str:
    """The name of a machine that the project knows; UsageError otherwise."""
    if name not in exercise_names():
        raise UsageError("This machine is not known; choose one from the list.")
    return name


def has_check(exercise: str, check: str) -> None:
    """Refuse a check that a machine does not have; an empty one names none."""
    if check and check not in {spec.id for spec in find_exercise(exercise).checks}:
        raise UsageError("This machine has no such check; choose one that it has.")


def sound(value: float | None, what: str, low: float, high: float) -> float | None:
    """A number within bounds, or None; UsageError otherwise."""
    if value is None:
        return None
    if not (math.isfinite(value) and low <= value <= high):
        raise UsageError(f"{what} must be from {low:g} to {high:g}.")
    return float(value)


def sound_load(load: float | None, unit: str) -> float | None:
    """A load that a machine may hold, or None; UsageError otherwise, and for a unit that is none."""
    known = cast(LoadUnit, one_of(unit, UNITS, "The unit"))
    told_in = "pins" if known == "pin" else known
    return sound(load, f"The load in {told_in}", low=0, high=MAX_LOAD[known])


def not_ahead(day: date) -> date:
    """A day that has come at the studio, as on the pages; UsageError for one that has not."""
    if day > today():
        raise UsageError("This day has not come yet; choose the day on which the set was done.")
    return day


def since_joined(joined: datetime, day: date) -> None:
    """Refuse a day before a member joined: there is nothing of theirs from then."""
    first = day_of(joined)
    if day < first:
        raise UsageError(f"The member joined on {first:%d %B %Y}; choose that day or a later one.")


def sound_limit(spec: CheckSpec, limit: Mapping[str, float]) -> dict[str, float]:
    """A limit that fits the side which the check has; UsageError otherwise."""
    sides = {side for side in ("at_most", "at_least") if getattr(spec.limit, side) is not None}
    if len(sides) != 1 or set(limit) != sides or spec.limit.is_length:
        raise UsageError(f"{spec.title} takes no limit of this kind; leave it as it is.")
    return {side: sound(value, "The limit", low=-1000, high=1000) or 0.0 for side, value in limit.items()}


def one_of(value: str | None, allowed: tuple[Name, ...], what: str) -> Name | None:
    """A value from a list, or None; UsageError otherwise."""
    if value is not None and value not in allowed:
        raise UsageError(f"{what} must be one of: {', '.join(allowed)}.")
    return value
