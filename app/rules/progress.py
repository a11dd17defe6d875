"""Dated sets -> a question about the load for the trainer: decision support, never a decision.

The rule, the steps of the stack and the sources of both are fields of ``Settings``. Pain or an open
fault ends the matter before any arithmetic: then the only answer is to ask the trainer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

from app.rules.estimates import MOST_REPS, brzycki, epley
from app.rules.history import SetRecord
from app.rules.load_settings import Settings
from app.rules.stack import IN_PINS
from app.rules.words import exercise_of, load_words, title_of
from shared.exercise import Source, exercise_names
from vision.common.quantities import listed
from vision.telling.words import counted

Answer = Literal["ask-trainer", "hold-or-lower", "hold", "more-repetitions-first", "more-load"]
#: A set that felt like this does not speak for more load.
TOO_HARD = ("hard", "could-not-finish")


@dataclass(frozen=True)
class Advice:
    """One exercise: the question for the trainer, what it rests on, and what else is worth knowing."""

    exercise: str
    answer: Answer
    question: str
    last: SetRecord
    evidence: str = ""
    next_load: float | None = None
    notes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The question first, then what it rests on."""
        return f"{self.question} {self.evidence}".strip()


def advise(history: Iterable[SetRecord], settings: Settings | None = None) -> list[Advice]:
    """One question for each exercise of a member's history, by name."""
    settings = settings or Settings()
    ordered = sorted(history, key=lambda r: r.day)
    names = sorted({r.exercise for r in ordered})
    return [_advise_one(name, ordered, settings) for name in names]


def first_load(exercise: str, settings: Settings | None = None) -> str:
    """The question where a member has not done a machine yet."""
    settings = settings or Settings()
    stack, (low, high) = settings.told_stack(exercise), settings.target_reps
    which = "" if stack is None else f" ({stack.start:g} or {stack.start + stack.step:g} {stack.unit})"
    return (
        f"Start with one of the two lightest plates{which}? The right load is the one at which a set of "
        f"{low} to {high} takes effort at the end and every rep stays slow."
    )


def _advise_one(name: str, history: Sequence[SetRecord], settings: Settings) -> Advice:
    sets = [r for r in history if r.exercise == name]
    last = sets[-1]
    worry = _worry(sets)
    if worry is not None:
        return Advice(name, "ask-trainer", f"{worry} first: what has to change before the load does?", last)
    notes = _notes(sets, settings)
    tired = _tired(last, history)
    if last.repetitions < settings.target_reps[0] or last.feeling == "could-not-finish":
        question, seen = _lower(last, settings)
        return Advice(name, "hold-or-lower", question, last, evidence=seen + tired, notes=notes)
    running = _running(sets, settings)
    if len(running) < settings.rule.times or any(_against(r, settings) for r in running):
        question, seen = _hold(running, settings)
        cited = (_cite(settings.rule.source),)
        return Advice(name, "hold", question, last, evidence=seen + tired, notes=notes, sources=cited)
    return _more(running, settings, notes, tired)


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


def _tired(last: SetRecord, history: Sequence[SetRecord]) -> str:
    """That another machine had tired the same muscles on that day, empty where none had."""
    exercise = exercise_of(last.exercise) if last.exercise in exercise_names() else None
    if exercise is None:
        return ""
    before = history[: next(i for i, r in enumerate(history) if r is last)]
    done = {r.exercise for r in before if r.day == last.day}
    named = [title_of(name).lower() for name in exercise.tired_after if name in done]
    return f" Done after the {' and the '.join(named)} that day, so already tired." if named else ""


def _running(sets: Sequence[SetRecord], settings: Settings) -> list[SetRecord]:
    """The last sets that the rule looks at, back to where the load was another one."""
    rule, last = settings.rule, sets[-1]
    looked_at = list(sets) if rule.per == "set" else list({r.day: r for r in sets}.values())
    out: list[SetRecord] = []
    for record in reversed(looked_at[-rule.times :]):
        if not settings.same_load(record, last):
            break
        out.append(record)
    return out[::-1]


def _against(record: SetRecord, settings: Settings) -> bool:
    """Whether a set does not speak for more load."""
    return record.repetitions < settings.goal or bool(_too_hard(record, settings))


def _too_hard(record: SetRecord, settings: Settings) -> list[str]:
    """What shows that a set was hard, in words."""
    said = []
    if record.slowed is not None and record.slowed > settings.rule.slowed_percent:
        said.append(f"the last ones took {record.slowed:.0f} % longer")
    if record.feeling in TOO_HARD:
        said.append("felt hard" if record.feeling == "hard" else "not finished")
    return said


def _hold(running: Sequence[SetRecord], settings: Settings) -> tuple[str, str]:
    """The question whether to stay, and what it rests on."""
    last, goal = running[-1], settings.goal
    load, reps = _load(last), counted(last.repetitions, "rep")
    hard = _too_hard(last, settings)
    if last.feeling == "easy" and last.repetitions < goal and not hard:
        return f"Stay at {load}, and ask for {goal} reps?", f"Last set: {reps}, felt easy."
    if not _against(last, settings):
        good = next((i for i, r in enumerate(reversed(running)) if _against(r, settings)), len(running))
        hard = [f"which makes {good} of {settings.rule.times}"]
    return f"Stay at {load}?", f"Last set: {', '.join([reps, *hard])}. {_when_more(settings)}"


def _when_more(settings: Settings) -> str:
    rule, set_of = settings.rule, f"a steady set of {settings.goal} or more"
    if rule.times == 1:
        return f"Go up after {'a day that ends with ' if rule.per == 'day' else ''}{set_of} that is not hard."
    many = _number(rule.times)
    if rule.per == "day":
        return f"Go up after {many} days in a row that end with {set_of}, none of them hard."
    return f"Go up after {many} steady sets in a row of {settings.goal} or more, none of them hard."


def _number(count: int) -> str:
    return {2: "two", 3: "three", 4: "four"}.get(count, str(count))


def _lower(last: SetRecord, settings: Settings) -> tuple[str, str]:
    """The question whether to stay or go down, and what it rests on."""
    down = settings.stack_of(last).neighbour(last.load, last.unit, -1)
    lower = f"or go down to {load_words(down, last.unit)}" if down else "or choose something lighter"
    low = settings.target_reps[0]
    under = f", fewer than {low}" if last.repetitions < low else ""
    unfinished = ", not finished" if last.feeling == "could-not-finish" else ""
    seen = f"Last set: {counted(last.repetitions, 'rep')}{under}{unfinished}. Ask why it stopped there."
    return f"Stay at {_load(last)}, {lower}?", seen


def _more(running: Sequence[SetRecord], settings: Settings, notes: tuple[str, ...], tired: str) -> Advice:
    last, increase = running[-1], settings.increase
    stack = settings.stack_of(last)
    cited = (settings.rule.source, increase.source, stack.source)
    said = partial(Advice, last.exercise, last=last, sources=(*map(_cite, cited), increase.guide))
    if any(r.feeling is None for r in running):
        notes = ("Nobody said how these sets felt: ask first.", *notes)
    up = stack.neighbour(last.load, last.unit, 1) or last.load
    percent, most = _percent(last, up, settings), increase.at_most_percent
    enough, step = settings.goal + increase.reps_first, load_words(up, last.unit)
    rise = stack.kg(up, last.unit) - stack.kg(last.load, last.unit)
    large = percent is not None and percent > most
    if large and not stack.by_add_on(rise) and min(r.repetitions for r in running) < enough:
        question = f"Stay at {_load(last)}, and ask for {enough} reps first?"
        seen = f"{_seen(running)} {_how_large(percent, most, f'The next load, {step}, is')}"
        return said(answer="more-repetitions-first", question=question, evidence=seen + tired, notes=notes)
    seen = f"{_seen(running)} {_how_large(percent, most)}{tired}"
    question = f"Go up to {step}?"
    return said(answer="more-load", question=question, evidence=seen, next_load=up, notes=notes)


def _how_large(percent: float | None, most: float, what: str = "It is") -> str:
    if percent is None:
        return "How much heavier the next plate is cannot be told: the studio has not said what it weighs."
    if percent > most:
        shown = f"{percent:.0f}" if round(percent) > most else f"{percent:g}"
        return f"{what} a big step: {shown} %, with {most:g} % advised; there is no smaller one."
    return f"{what} a step of {percent:.0f} %."


def _seen(running: Sequence[SetRecord]) -> str:
    """``Two steady sets of 15, felt easy.``"""
    counts = list(dict.fromkeys(str(r.repetitions) for r in running))
    steady = "steady " if all(r.slowed is not None for r in running) else ""
    easy = ", felt easy" if all(r.feeling == "easy" for r in running) else ""
    sets = f"One {steady}set" if len(running) == 1 else f"{_number(len(running)).capitalize()} {steady}sets"
    return f"{sets} of {listed(counts)}{easy}."


def _percent(last: SetRecord, up: float, settings: Settings) -> float | None:
    """By how many percent a load weighs more; None where the stack of a pin is not known."""
    if last.unit in IN_PINS and settings.told_stack(last.exercise) is None:
        return None
    stack = settings.stack_of(last)
    now = stack.kg(last.load, last.unit)
    return round(100.0 * (stack.kg(up, last.unit) - now) / now, 1) if now > 0 else None


def _notes(sets: Sequence[SetRecord], settings: Settings) -> tuple[str, ...]:
    last, high = sets[-1], settings.target_reps[1]
    notes = []
    if last.repetitions > high:
        notes.append(f"{last.repetitions} reps are over the target of {high}; that is no fault.")
    if any(r.pain for r in sets):
        day = max(r.day for r in sets if r.pain)
        notes.append(f"Pain was noted on {day.isoformat()}: ask how it is now.")
    if settings.told_stack(last.exercise) is None and last.unit not in IN_PINS:
        notes.append("The studio has not said what this stack holds: the steps are a guess.")
    units = {r.unit for r in sets[-2:]}
    if units == {"kg", "lb"}:
        notes.append("The last sets are in both kg and lb; one was converted to compare them.")
    elif len(units) > 1 and settings.told_stack(last.exercise) is None:
        notes.append("A pin and a weight compare only where the studio says what the machine holds.")
    if 0 < last.repetitions <= MOST_REPS and last.unit not in IN_PINS:
        first, most = epley(last.load, last.repetitions), brzycki(last.load, last.repetitions)
        notes.append(
            f"Estimated one-repetition maximum: {first:.0f} {last.unit} (Epley), {most:.0f} (Brzycki); an "
            "estimate, not to be tried out."
        )
    return tuple(notes)


def _load(record: SetRecord) -> str:
    return load_words(record.load, record.unit)


def _cite(source: Source) -> str:
    return f"{source.kind}: {source.cite}"
