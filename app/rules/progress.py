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
    next_load: float | None = None
    notes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


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
        f"The right load is the one at which a set of {low} to {high} is hard at the end. Would you start "
        f"with one of the two lightest plates{which}?"
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
        question = tired + _lower_question(last, settings)
        return Advice(name, "hold-or-lower", question, last, notes=notes)
    running = _running(sets, settings)
    if len(running) < settings.rule.times or any(_against(r, settings) for r in running):
        question, cited = tired + _hold_question(running, settings), (_cite(settings.rule.source),)
        return Advice(name, "hold", question, last, notes=notes, sources=cited)
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
    return f"Done tired, after the {' and the '.join(named)} that day. " if named else ""


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


def _against(record: SetRecord, settings: Settings) -> list[str]:
    """What in a set does not speak for more load, in words."""
    said = []
    if record.repetitions < settings.goal:
        said.append(f"it had {record.repetitions} reps")
    if record.slowed is not None and record.slowed > settings.rule.slowed_percent:
        said.append(f"its last reps took {record.slowed:.0f} % longer")
    if record.feeling in TOO_HARD:
        said.append("it felt hard" if record.feeling == "hard" else "it could not be finished")
    return said


def _hold_question(running: Sequence[SetRecord], settings: Settings) -> str:
    last, times = running[-1], settings.rule.times
    load = _load(last)
    against = _against(last, settings)
    if last.feeling == "easy" and last.repetitions < settings.goal and len(against) == 1:
        return f"{last.repetitions} reps at {load} felt easy. Would you ask for {settings.goal} next time?"
    wanted = "One set" if times == 1 else f"{times} sets running"
    rule = f"{wanted} of {settings.goal} reps or more at this load, steady and not hard, would ask for more"
    if against:
        return f"{rule}. Of the last one: {', '.join(against)}. Would you hold {load}?"
    return f"{rule}, and the last set was the first of them. Would you hold {load}?"


def _lower_question(last: SetRecord, settings: Settings) -> str:
    down = settings.stack_of(last).neighbour(last.load, last.unit, -1)
    lower = f"or go down to {load_words(down, last.unit)}" if down else "or choose something lighter"
    why = f", under {settings.target_reps[0]}" if last.repetitions < settings.target_reps[0] else ""
    unfinished = " and could not be finished" if last.feeling == "could-not-finish" else ""
    return (
        f"The last set stopped at {last.repetitions}{why}{unfinished}. Would you hold {_load(last)}, "
        f"{lower}? And why did it stop there?"
    )


def _more(running: Sequence[SetRecord], settings: Settings, notes: tuple[str, ...], tired: str) -> Advice:
    last, increase = running[-1], settings.increase
    stack = settings.stack_of(last)
    cited = (settings.rule.source, increase.source, stack.source)
    said = partial(Advice, last.exercise, last=last, sources=(*map(_cite, cited), increase.guide))
    if any(r.feeling is None for r in running):
        notes = ("Nobody told how the last sets felt: ask before the load goes up.", *notes)
    up = stack.neighbour(last.load, last.unit, 1) or last.load
    percent, enough = _percent(last, up, settings), settings.goal + increase.reps_first
    rise = stack.kg(up, last.unit) - stack.kg(last.load, last.unit)
    seen, step = tired + _seen(running), f"from {_load(last)} to {load_words(up, last.unit)}"
    large = percent is not None and percent > increase.at_most_percent
    if large and not stack.by_add_on(rise) and min(r.repetitions for r in running) < enough:
        question = (
            f"{seen} The smallest step, {step}, is {percent:g} %, over {increase.at_most_percent:g} %. Would "
            f"you ask for {enough} reps at {_load(last)} first?"
        )
        return said(answer="more-repetitions-first", question=question, notes=notes)
    question = f"{seen} {_how_large(percent, increase.at_most_percent)} Would you go up {step}?"
    return said(answer="more-load", question=question, next_load=up, notes=notes)


def _how_large(percent: float | None, most: float) -> str:
    if percent is None:
        return "How much heavier the next plate is cannot be told: the studio has not said what it weighs."
    if percent > most:
        return (
            f"The smallest step is {percent:g} %: over the {most:g} % advised, but there is no smaller one."
        )
    return f"The smallest step is {percent:g} %."


def _seen(running: Sequence[SetRecord]) -> str:
    counts = " and ".join(str(r.repetitions) for r in running)
    how = ["steady"] if all(r.slowed is not None for r in running) else []
    how += ["felt easy"] if all(r.feeling == "easy" for r in running) else []
    more = f", {' and '.join(how)}" if how else ""
    return f"The last {'set' if len(running) == 1 else 'sets'} at this load had {counts} reps{more}."


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
        notes.append(f"{last.repetitions} repetitions are over the target's {high}: a note, not a fault.")
    if any(r.pain for r in sets):
        day = max(r.day for r in sets if r.pain)
        notes.append(f"Pain was noted on {day.isoformat()}: ask how it is now.")
    units = {r.unit for r in sets[-2:]}
    if units == {"kg", "lb"}:
        notes.append("The last sets are written in both kg and lb; they were compared after conversion.")
    elif len(units) > 1 and settings.told_stack(last.exercise) is None:
        notes.append("A pin and a weight compare only where the studio says what the machine holds.")
    if 0 < last.repetitions <= MOST_REPS and last.unit not in IN_PINS:
        first, most = epley(last.load, last.repetitions), brzycki(last.load, last.repetitions)
        notes.append(
            f"Estimated one-repetition maximum: {first:.0f} {last.unit} (Epley), {most:.0f} (Brzycki)."
        )
    return tuple(notes)


def _load(record: SetRecord) -> str:
    return load_words(record.load, record.unit)


def _cite(source: Source) -> str:
    return f"{source.kind}: {source.cite}"
