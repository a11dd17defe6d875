"""What stops a member: pain that was told and that no trainer has cleared. Asked by every screen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from app.rules.states import Feeling

#: What the store answers to whatever would go on.
STOPPED = "Pain was reported; talk to your trainer before anything else is done. Your trainer clears it."


@dataclass(frozen=True)
class PainTold:
    """One telling of pain. exercise, place: empty where they were not told."""

    id: int
    set_id: int
    exercise: str
    place: str
    at: datetime


@dataclass(frozen=True)
class Stop:
    """open: pain that nobody has cleared, oldest first; cleared: who cleared pain last, and when."""

    open: tuple[PainTold, ...] = ()
    cleared: tuple[str, datetime] | None = None

    @property
    def stops(self) -> bool:
        """Whether the member stops."""
        return bool(self.open)

    @property
    def reports(self) -> tuple[PainTold, ...]:
        """What is open, each place of a set once: a place given after the pain is no second pain."""
        named = {one.set_id for one in self.open if one.place}
        once = {(one.set_id, one.place): one for one in reversed(self.open)}
        return tuple(one for one in reversed(once.values()) if one.place or one.set_id not in named)

    @property
    def places(self) -> str:
        """Where it hurts, each place once."""
        return "; ".join(dict.fromkeys(one.place for one in self.open if one.place))

    @property
    def last(self) -> int:
        """The number of the last telling that is open, 0 without one."""
        return max((one.id for one in self.open), default=0)


@dataclass(frozen=True)
class Stopped:
    """A member who stops, for the trainer's list."""

    person_id: int
    name: str
    stop: Stop


@dataclass(frozen=True)
class PainWord:
    """One telling of a set: pain or none, place and feeling as told then, and by whom.

    cleared: which trainer cleared it and when, None while nobody has.
    """

    pain: bool
    place: str
    feeling: Feeling | None
    by: str
    at: datetime
    cleared: tuple[str, datetime] | None = None
