"""What the owner says of the room. What is kept here comes before file and environment, one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.rules.load_settings import RULES, Settings
from app.rules.room import LENGTHS, WEIGHTS, Room
from app.rules.stack import Stack
from app.store import queries
from app.store.database import Database
from app.store.models import Studio, TrainingSet, now
from app.store.rules import known_exercise, one_of, sound, trainer_only
from app.store.trainers import Trainers
from shared.errors import UsageError

#: Days for which clips may be kept.
SHORTEST, LONGEST = 1, 3650


@dataclass(frozen=True)
class NewStack:
    """A stack as it is told. add_on: None where no add-on weight lies there."""

    unit: str
    start: float | None
    step: float | None
    add_on: float | None = None
    add_ons: int = 1


class Rooms(Trainers):
    """The room: everybody goes by it, its owner changes it."""

    def room(self) -> Room:
        """Machines and units; for everybody."""
        with self._db.read() as session:
            return queries.room(session)

    def save_room(self, machines: Sequence[str], weight: str, length: str) -> None:
        """Keep which machines stand here, in this order, and the units; for the owner."""
        self._owner_only()
        names = [known_exercise(name) for name in dict.fromkeys(machines)]
        if not names:
            raise UsageError("A room needs a machine; choose one at least.")
        self._keep_studio(
            machines=names,
            weight_unit=one_of(weight, WEIGHTS, "The unit of loads"),
            length_unit=one_of(length, LENGTHS, "The unit of heights"),
        )

    def save_load_rule(self, rule: str | None, low: int, high: int) -> None:
        """Keep when more load is a question; rule: a name, None for the file's own. For the owner."""
        self._owner_only()
        rule = one_of(rule, tuple(RULES), "The rule")
        for reps in (low, high):
            sound(reps, "The target in repetitions", low=1, high=100)
        if low > high:
            raise UsageError("The target runs from the smaller number to the larger one; change them over.")
        self._keep_studio(load_rule=rule, reps_low=low, reps_high=high)

    def save_stack(self, exercise: str, stack: NewStack | None) -> None:
        """Keep what a machine's stack holds, None for what the file says; for the owner."""
        self._owner_only()
        told = {} if stack is None else {known_exercise(exercise): _sound_stack(stack)}
        with self._db.write() as session:
            kept = queries.studio(session)
            others = {name: one for name, one in (kept.stacks or {}).items() if name != exercise}
            self._fill(session, kept, stacks=(others | told) or None)

    def own_stacks(self) -> set[str]:
        """The machines whose stack was kept here and not in the file; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            return set(queries.studio(session).stacks or {})

    def clips_older(self, days: int) -> int:
        """How many clips were sent more than so many days ago and are still kept; for trainers."""
        trainer_only(self.actor)
        of = (TrainingSet.clip.is_not(None), TrainingSet.clip_dropped_at.is_(None))
        with self._db.read() as session:
            older = TrainingSet.uploaded_at < now() - timedelta(days=days)
            return session.scalar(select(func.count(TrainingSet.id)).where(*of, older)) or 0

    def keep_clips(self, days: int) -> None:
        """Keep clips as they were sent for so many days; older ones are dropped soon. For the owner."""
        self._owner_only()
        sound(days, "The days that clips are kept", SHORTEST, LONGEST)
        self._keep_studio(keep_clips_days=int(days))

    def _keep_studio(self, **values: Any) -> None:
        with self._db.write() as session:
            self._fill(session, queries.studio(session), **values)

    def _fill(self, session: Session, kept: Studio, **values: Any) -> None:
        for name, value in values.items():
            setattr(kept, name, value)
        kept.changed_by = self.actor.id
        session.add(kept)


def _sound_stack(told: NewStack) -> dict[str, Any]:
    """A stack as it is kept; UsageError where a number is missing or out of bounds."""
    unit = one_of(told.unit, WEIGHTS, "The unit of the stack")
    if told.start is None or told.step is None:
        raise UsageError("A stack needs its lightest load and its step; give both.")
    start, step = (
        sound(value, what, low=0.1, high=200)
        for value, what in ((told.start, "The lightest load"), (told.step, "The step"))
    )
    add_on = sound(told.add_on, "The add-on weight", low=0.1, high=200)
    pieces = 0 if add_on is None else int(sound(told.add_ons, "How many add-on weights", 1, 10) or 1)
    kept = {"unit": unit, "start": start, "step": step, "add_on": add_on or step, "add_ons": pieces}
    return Stack.model_validate(kept).model_dump(exclude={"source"})


def load_of(database: Database, file: Settings) -> Settings:
    """What the studio says of loads: what was kept on the page comes before the file, one by one."""
    with database.read() as session:
        kept = queries.studio(session)
    changed: dict[str, Any] = {"stacks": dict(file.stacks)}
    changed["stacks"] |= {name: Stack.model_validate(one) for name, one in (kept.stacks or {}).items()}
    if kept.load_rule in RULES:
        changed["rule"] = RULES[kept.load_rule]
    if kept.reps_low is not None and kept.reps_high is not None:
        changed["target_reps"] = (kept.reps_low, kept.reps_high)
    return file.model_copy(update=changed)


def days_kept(database: Database, otherwise: int) -> int:
    """For how many days clips are kept as they were sent; otherwise: what goes until the owner says."""
    with database.read() as session:
        return queries.studio(session).keep_clips_days or otherwise
