"""A week's digest for the trainer: who was not looked at, whose form slips, who is due for a question."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from app.rules.history import SetRecord
from app.rules.load_answer import LoadWord, stands
from app.rules.load_settings import Settings
from app.rules.progress import Answer, advise
from app.rules.words import day_words, load_words
from vision.telling.words import counted

WEEK = timedelta(days=7)
#: So many sets before and after a load went up are held against each other: common practice, no published
#: source.
COMPARED = 3
#: Answers that leave something to decide; a flag or pain to settle stands with the sets that wait.
_TO_ASK: tuple[Answer, ...] = ("more-load", "more-repetitions-first", "hold-or-lower")


@dataclass(frozen=True)
class Waiting:
    """Sets of one member that nobody has looked at: how many, since when, and the one to look at first.

    pain: some of it is not cleared; cleared: the trainer who cleared pain that was told with one.
    """

    sets: int
    oldest: date
    first_set: int
    pain: bool
    cleared: str = ""


@dataclass(frozen=True)
class Trained:
    """One member as the digest needs them. history: in the order of the sets; stopped: by pain.

    said: the last answer about the load on each machine.
    """

    person_id: int
    name: str
    waiting: Waiting | None
    history: Sequence[SetRecord]
    stopped: bool = False
    said: Mapping[str, LoadWord] = field(default_factory=dict)


@dataclass(frozen=True)
class WeekLine:
    """One line of the digest. exercise: empty where it is about all machines; set_id: the set to look at."""

    person_id: int
    name: str
    words: str
    exercise: str = ""
    set_id: int | None = None


@dataclass(frozen=True)
class Digest:
    """The three lists, each with the most pressing first."""

    not_looked_at: tuple[WeekLine, ...]
    slipping: tuple[WeekLine, ...]
    due: tuple[WeekLine, ...]


def digest(members: Sequence[Trained], settings: Settings, today: date) -> Digest:
    """What a trainer should know of the seven days up to today."""
    waiting = [(m, m.waiting) for m in members if m.waiting is not None]
    waiting.sort(key=lambda pair: (not pair[1].pain, pair[1].oldest, pair[0].name))
    return Digest(
        tuple(WeekLine(m.person_id, m.name, _wait_words(w, today), set_id=w.first_set) for m, w in waiting),
        tuple(line for m in members for line in _slipping(m, settings, today)),
        tuple(line for m in members for line in _due(m, settings, today)),
    )


def _wait_words(waiting: Waiting, today: date) -> str:
    wait = "1 set waits," if waiting.sets == 1 else f"{waiting.sets} sets wait, the oldest"
    cleared = f"Pain reported, cleared by {waiting.cleared}. " if waiting.cleared else ""
    pain = "Pain reported. " if waiting.pain else cleared
    return f"{pain}{wait} done {day_words(waiting.oldest, today)}"


def _due(member: Trained, settings: Settings, today: date) -> list[WeekLine]:
    """Questions about the load that nobody answered; none of a member whom pain stops, on no machine."""
    if member.stopped:
        return []
    return [
        WeekLine(member.person_id, member.name, advice.words, advice.exercise)
        for advice in advise(member.history, settings)
        if advice.answer in _TO_ASK
        and _in_week(advice.last.day, today)
        and not stands(member.said.get(advice.exercise), advice)
    ]


def _slipping(member: Trained, settings: Settings, today: date) -> list[WeekLine]:
    lines = []
    for name in sorted({r.exercise for r in member.history}):
        sets = [r for r in member.history if r.exercise == name]
        words = slips(sets, settings) if _in_week(sets[-1].day, today) else ""
        lines += [WeekLine(member.person_id, member.name, words, name)] if words else []
    return lines


def slips(sets: Sequence[SetRecord], settings: Settings) -> str:
    """That more sets of one machine were flagged since the load last went up; empty where they were not.

    Of the sets at the load of now and at the one before, the last few each; a flag called no fault is none.
    """
    now = _at_one_load(sets, settings)
    before = _at_one_load(sets[: len(sets) - len(now)], settings)
    if not before or (settings.rise_kg(before[-1], now[-1]) or 0.0) <= 0.0:
        return ""
    now, before = now[-COMPARED:], before[-COMPARED:]
    flagged, earlier = (sum(bool(r.open_faults) for r in part) for part in (now, before))
    if flagged / len(now) <= earlier / len(before):
        return ""
    return (
        f"Flagged in {flagged} of {counted(len(now), 'set')} at {load_words(now[-1].load, now[-1].unit)}, in "
        f"{earlier} of {len(before)} at {load_words(before[-1].load, before[-1].unit)}"
    )


def _at_one_load(sets: Sequence[SetRecord], settings: Settings) -> list[SetRecord]:
    """The last sets, back to where the load was another one."""
    out: list[SetRecord] = []
    for record in reversed(sets):
        if out and not settings.same_load(record, out[0]):
            break
        out.insert(0, record)
    return out


def _in_week(day: date, today: date) -> bool:
    return timedelta(0) <= today - day < WEEK
