"""Dated sets -> a question about the load for the trainer: decision support, never a decision.

The rule, the steps of the stack and the sources of both are fields of ``Settings``. Pain or an open
fault ends the matter before any arithmetic: then the only answer is to ask the trainer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, model_validator

from app.rules.history import LoadUnit, SetRecord
from shared.definition import Strict
from shared.exercise import Source

Answer = Literal["ask-trainer", "hold-or-lower", "hold", "more-repetitions-first", "more-load"]
Count = Annotated[int, Field(ge=1, le=100)]
Weight = Annotated[float, Field(gt=0, le=200)]

#: Percent of the one-repetition maximum by repetitions: NSCA, Essentials, from memory.
NSCA_PERCENT = {1: 100, 5: 87, 8: 80, 10: 75, 12: 67, 15: 65}
ESTIMATES_NOTE = (
    "Estimates, not measurements: at 80 % of the maximum people have managed from 5 to 20 repetitions, and "
    "a set that stopped early reads too low. Nobody is to try a maximum because of them."
)


class Rule(Strict):
    """When more load is a question at all: ``beyond`` repetitions over the target, ``times`` running.

    per: whether every set counts, or the last set of each day of training.
    """

    beyond: Annotated[int, Field(ge=0, le=50)] = 2
    times: Annotated[int, Field(ge=1, le=10)] = 2
    per: Literal["set", "day"] = "set"
    source: Source = Source(
        kind="published",
        cite="NSCA, Essentials of Strength Training and Conditioning, the two-for-two rule: two or more "
        "repetitions over the goal in the last set, two sessions running; known second-hand, and applied "
        "here to two sets running",
    )


class Increase(Strict):
    """How large one step may be, in percent of the load; ``guide``: what else is usual, in words."""

    at_most_percent: Annotated[float, Field(gt=0, le=100)] = 10.0
    source: Source = Source(
        kind="published",
        cite="ACSM position stand 2009 (Med Sci Sports Exerc 41:687): 2 to 10 %, read in its abstract. A "
        "newer ACSM stand of 2026 is known here only second-hand, so nothing rests on it",
    )
    guide: str = (
        "NSCA, Essentials (from memory), for less trained people: steps of 5 to 10 lb (2 to 4 kg) for the "
        "legs, 2.5 to 5 lb (1 to 2 kg) for arms and trunk; about twice that for the more trained"
    )


class Stack(Strict):
    """What the machine's pin and add-on weights allow; ``add_ons``: how many lie at hand."""

    plate_lb: Weight = 15.0
    plate_kg: Weight = 7.0
    add_on_lb: Weight = 5.0
    add_on_kg: Weight = 2.3
    add_ons: Annotated[int, Field(ge=0, le=10)] = 1
    source: Source = Source(
        kind="common practice", cite="no published source; plates of 15 lb (7 kg), add-on of 5 lb (2.3 kg)"
    )

    def sizes(self, unit: LoadUnit) -> tuple[float, float]:
        """(plate, add-on) in a unit."""
        return (self.plate_lb, self.add_on_lb) if unit == "lb" else (self.plate_kg, self.add_on_kg)

    def neighbour(self, load: float, unit: LoadUnit, way: Literal[1, -1]) -> float | None:
        """The nearest load that the stack allows above (1) or below (-1); None below the first plate.

        A load that the stack does not hold, such as one read off other plates, moves by an add-on.
        """
        plate, add_on = self.sizes(unit)
        top = int(load / plate) + 2
        held = {n * plate + k * add_on for n in range(1, top + 1) for k in range(self.add_ons + 1)}
        slack = 0.05 * add_on
        if all(abs(h - load) > slack for h in held):
            held = {load + way * (add_on if self.add_ons else plate)}
        found = [h for h in held if way * (h - load) > slack and h > slack]
        if not found:
            return None
        return round(min(found) if way > 0 else max(found), 2)


class Settings(Strict):
    """Everything that the question depends on; ``stacks`` by exercise, ``stack`` for the others."""

    target_reps: tuple[Count, Count] = (12, 15)
    rule: Rule = Rule()
    increase: Increase = Increase()
    stack: Stack = Stack()
    stacks: dict[str, Stack] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _ordered(self) -> Settings:
        if self.target_reps[0] > self.target_reps[1]:
            raise ValueError("target_reps: the first number must not be larger than the second")
        return self

    @property
    def goal(self) -> int:
        """Repetitions from which a set speaks for more load."""
        return self.target_reps[1] + self.rule.beyond


@dataclass(frozen=True)
class Advice:
    """One exercise: the question for the trainer, what it rests on, and what else is worth knowing."""

    exercise: str
    answer: Answer
    question: str
    last: SetRecord
    next_load: float | None = None
    notes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


def advise(history: Iterable[SetRecord], settings: Settings | None = None) -> list[Advice]:
    """One question for each exercise of a member's history, by name."""
    settings = settings or Settings()
    by_name: dict[str, list[SetRecord]] = {}
    for record in sorted(history, key=lambda r: r.day):
        by_name.setdefault(record.exercise, []).append(record)
    return [_advise_one(sets, settings) for _, sets in sorted(by_name.items())]


def _advise_one(sets: Sequence[SetRecord], settings: Settings) -> Advice:
    last = sets[-1]
    worry = _worry(sets)
    if worry is not None:
        question = f"{worry} first: what has to change before the load does?"
        return Advice(last.exercise, "ask-trainer", question=question, last=last)
    notes = _notes(sets, settings)
    if last.repetitions < settings.target_reps[0]:
        return Advice(
            last.exercise,
            "hold-or-lower",
            question=_lower_question(last, settings),
            last=last,
            next_load=None,
            notes=notes,
        )
    running = _running(sets, settings)
    if len(running) < settings.rule.times or min(r.repetitions for r in running) < settings.goal:
        wanted = "one set" if settings.rule.times == 1 else f"{settings.rule.times} sets running"
        question = (
            f"The rule asks for {wanted} of {settings.goal} reps or more at this load, and the last had "
            f"{last.repetitions}. Would you hold {_load(last)}?"
        )
        return Advice(
            last.exercise,
            "hold",
            question=question,
            last=last,
            next_load=None,
            notes=notes,
            sources=(_cite(settings.rule.source),),
        )
    return _more(last, running, settings=settings, notes=notes)


def _worry(sets: Sequence[SetRecord]) -> str | None:
    """What comes before any talk of the load: pain on the last two days, or a fault left open."""
    days = sorted({r.day for r in sets})[-2:]
    for record in reversed(sets):
        if record.pain and (record.day in days or record in sets[-2:]):
            return f"Ask about the pain of {record.day.isoformat()}"
    for record in reversed(sets[-2:]):
        if record.open_faults:
            count = "flag" if record.open_faults == 1 else f"{record.open_faults} flags"
            return f"Settle the {count} of {record.day.isoformat()}"
    return None


def _running(sets: Sequence[SetRecord], settings: Settings) -> list[SetRecord]:
    """The last sets that the rule looks at, back to where the load was lighter by half a step or more."""
    rule, stack = settings.rule, _stack(sets[-1], settings)
    looked_at = list(sets) if rule.per == "set" else list({r.day: r for r in sets}.values())
    half_step = 0.5 * (stack.add_on_kg if stack.add_ons else stack.plate_kg)
    out: list[SetRecord] = []
    for record in reversed(looked_at[-rule.times :]):
        if record.load_kg <= sets[-1].load_kg - half_step:
            break
        out.append(record)
    return out[::-1]


def _more(last: SetRecord, running: list[SetRecord], settings: Settings, notes: tuple[str, ...]) -> Advice:
    stack = _stack(last, settings)
    cited = (settings.rule.source, settings.increase.source, stack.source)
    sources = (*(_cite(s) for s in cited), settings.increase.guide)
    up = stack.neighbour(last.load, last.unit, 1) or last.load
    percent = round(100.0 * (up - last.load) / last.load, 1)
    counts = " and ".join(str(r.repetitions) for r in running)
    seen = f"The last sets reached {counts}, {settings.goal} or more each."
    if percent > settings.increase.at_most_percent:
        question = (
            f"{seen} But the smallest step of the stack, to {up:g} {last.unit}, is {percent:g} %, "
            f"over {settings.increase.at_most_percent:g} %. Would you ask for more repetitions at "
            f"{_load(last)} first?"
        )
        return Advice(
            last.exercise,
            "more-repetitions-first",
            question=question,
            last=last,
            next_load=None,
            notes=notes,
            sources=sources,
        )
    question = (
        f"{seen} Would you go up from {_load(last)} to {up:g} {last.unit}, the smallest step of the stack "
        f"({percent:g} %)?"
    )
    return Advice(
        last.exercise, "more-load", question=question, last=last, next_load=up, notes=notes, sources=sources
    )


def _lower_question(last: SetRecord, settings: Settings) -> str:
    down = _stack(last, settings).neighbour(last.load, last.unit, -1)
    lower = f"or go down to {down:g} {last.unit}" if down else "or choose something lighter"
    return (
        f"The last set stopped at {last.repetitions}, under {settings.target_reps[0]}. Would you hold "
        f"{_load(last)}, {lower}? And why did it stop there?"
    )


def _notes(sets: Sequence[SetRecord], settings: Settings) -> tuple[str, ...]:
    last, high = sets[-1], settings.target_reps[1]
    notes = []
    if last.repetitions > high:
        notes.append(f"{last.repetitions} repetitions are over the target's {high}: a note, not a fault.")
    if any(r.pain for r in sets):
        day = max(r.day for r in sets if r.pain)
        notes.append(f"Pain was noted on {day.isoformat()}: ask how it is now.")
    if len({r.unit for r in sets[-2:]}) > 1:
        notes.append("The last sets are written in both kg and lb; they were compared after conversion.")
    most = brzycki(last.load, last.repetitions)
    if last.repetitions and most is not None:
        first = epley(last.load, last.repetitions)
        notes.append(
            f"Estimated one-repetition maximum: {first:.0f} {last.unit} (Epley), {most:.0f} (Brzycki)."
        )
    return tuple(notes)


def _stack(record: SetRecord, settings: Settings) -> Stack:
    return settings.stacks.get(record.exercise, settings.stack)


def _load(record: SetRecord) -> str:
    return f"{record.load:g} {record.unit}"


def _cite(source: Source) -> str:
    return f"{source.kind}: {source.cite}"


def epley(load: float, repetitions: int) -> float:
    """One-repetition maximum after Epley, w (1 + r / 30); a single repetition is its own maximum."""
    return load if repetitions <= 1 else load * (1.0 + repetitions / 30.0)


def brzycki(load: float, repetitions: int) -> float | None:
    """One-repetition maximum after Brzycki, 36 w / (37 - r); None from 37 repetitions on."""
    return 36.0 * load / (37.0 - repetitions) if repetitions < 37 else None


def percent_table() -> list[tuple[int, int, float, float]]:
    """(repetitions, NSCA %, Epley %, Brzycki %) of the one-repetition maximum; all are estimates."""
    rows = []
    for reps, nsca in NSCA_PERCENT.items():
        rows.append((reps, nsca, 100.0 / epley(1.0, reps), 100.0 / (brzycki(1.0, reps) or float("nan"))))
    return rows
