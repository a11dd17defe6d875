"""What a member should work on next: at most three lines, most important first, each with its reasons.

A line comes from a prompt of the last set on a machine that the trainer handed over; where none was, of the
last judged one as the tool worded it. What is not in that set any more is settled: a newer set, until it is
handed over, settles nothing and tells nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import Literal

from app.rules.card_limit import CardLimit
from app.rules.inside_limit import inside
from app.rules.states import SetStatus
from app.rules.told import Prompt, Told
from app.rules.words import day_words, exercise_of, title_of
from shared.faults import is_grave, order_of
from vision.telling.words import reps_words

#: What keeps a set from being settled: its pain, a clip that could not be read or judged, a look at it.
Open = Literal["pain", "checking", "unread", "waits"]
MOST = 3
#: Sets older than this say nothing of what to do next. Common practice, no published source.
FRESH = timedelta(weeks=8)


@dataclass(frozen=True)
class Looked:
    """One judged set with what the member is told of it."""

    set_id: int
    exercise: str
    day: date
    told: Told


@dataclass(frozen=True)
class WorkLine:
    """One thing to work on. why: for the trainer; looked_at: whether a trainer handed it over."""

    exercise: str
    title: str
    words: str
    set_id: int
    looked_at: bool
    why: tuple[str, ...]


def next_lines(
    sets: Sequence[Looked], today: date, limits: Mapping[str, CardLimit] = MappingProxyType({})
) -> list[WorkLine]:
    """The lines. sets: newest first; nothing while any of them asks the member to stop.

    limits: by machine, as the settings cards give them now.
    """
    fresh = [s for s in sets if today - s.day <= FRESH]
    if any(s.told.stop for s in fresh):
        return []
    ranked: list[tuple[tuple[int, bool, bool, int, int], WorkLine]] = []
    for name in dict.fromkeys(s.exercise for s in fresh):
        judged = [s for s in fresh if s.exercise == name]
        last, *before = [s for s in judged if s.told.state == "released"] or judged
        for prompt in last.told.prompts:
            again = next((s for s in before[:1] if _has(s, prompt)), None)
            said = inside(prompt, limits.get(name, CardLimit()), exercise_of(name))
            line = _line(said, last, again=again, today=today)
            if all((name, line.words) != (one.exercise, one.words) for _, one in ranked):
                ranked.append((_rank(said, again, last), line))
    ranked.sort(key=lambda pair: pair[0])
    return [line for _, line in ranked[:MOST]]


def open_of(status: SetStatus, pain: bool, handed_over: bool) -> Open | None:
    """What is open of a set, pain before all; None once it was checked, handed over and without pain."""
    if pain:
        return "pain"
    if status == "checking":
        return "checking"
    if status != "checked":
        return "unread"
    return None if handed_over else "waits"


def _rank(prompt: Prompt, again: Looked | None, last: Looked) -> tuple[int, bool, bool, int, int]:
    """By the order of worry; then what came back, the trainer's own words, many repetitions, the newest."""
    own = prompt.origin in ("reworded", "added")
    return order_of(prompt.check), again is None, not own, -len(prompt.reps), -last.day.toordinal()


def _has(other: Looked, prompt: Prompt) -> bool:
    return any(
        (p.check == prompt.check) if prompt.check else (p.title, p.words) == (prompt.title, prompt.words)
        for p in other.told.prompts
    )


def _line(prompt: Prompt, last: Looked, again: Looked | None, today: date) -> WorkLine:
    which = reps_words(list(prompt.reps))
    why = [f"{prompt.title}: {which}, {day_words(last.day, today)}"]
    if is_grave(prompt.check):
        why.append("a joint was taken to its end under load")
    if again is not None:
        why.append(f"also in the set before, {day_words(again.day, today)}")
    if prompt.origin in ("reworded", "added"):
        why.append(f"in {last.told.by}'s words")
    handed_over = last.told.state == "released"
    return WorkLine(
        last.exercise,
        title_of(last.exercise),
        words=prompt.words,
        set_id=last.set_id,
        looked_at=handed_over,
        why=tuple(why),
    )
