"""The question about the load as each of them reads it: the trainer decides, the member may ask."""

from __future__ import annotations

import re
from datetime import date

from app.rules.load_answer import Choice, LoadWord
from app.rules.progress import Advice
from app.rules.words import day_words, load_words
from app.store.base import day_of
from vision.telling.words import counted

#: Stands wherever somebody decides about a load.
BEFORE_MORE = (
    "Never go up with pain: ask first. Stop on sharp or joint pain. This is no medical advice; a clinician's "
    "limits and local rules come first."
)
#: What a member reads of a machine that they have not done yet.
FIRST_TIME = (
    "First time? Ask your trainer for the weight. Start with one of the two lightest plates, and add a plate "
    "only when your trainer says so."
)
ALWAYS_ASK = "Change the load only with your trainer. Pain comes first: tell them before any set."


def for_trainer(advice: Advice) -> str:
    """The question as put to the one who decides."""
    return with_days(advice.words)


def with_days(text: str) -> str:
    """A sentence with its dates as days: ``Mon 2 March 2026`` for ``2026-03-02``."""
    return re.sub(r"\d{4}-\d\d-\d\d", lambda found: day_words(date.fromisoformat(found[0]), date.min), text)


def for_member(advice: Advice) -> str:
    """What a member may take to their trainer; nothing of what the trainer has not handed over."""
    now = load_words(advice.last.load, advice.last.unit)
    reps = counted(advice.last.repetitions, "rep")
    said = {
        "ask-trainer": f"Speak to your trainer before your next set at {now}.",
        "hold-or-lower": (
            f"Your last set stopped at {reps}. Ask your trainer whether to keep {now} or go lighter."
        ),
        "hold": f"You did {reps} at {now} in your last set. Stay there for now.",
        "more-repetitions-first": (
            f"Your last sets went well at {now}. The next plate is a big step: ask your trainer about more "
            "reps first."
        ),
        "more-load": f"Your last sets went well at {now}. Ask your trainer whether it is time for more.",
    }
    return said[advice.answer]


def choice_words(choice: Choice, load: float, unit: str) -> str:
    """One answer: ``Up to 17.5 kg``."""
    way = {"up": "Up to", "stay": "Stay at", "lower": "Down to"}[choice]
    return f"{way} {load_words(load, unit)}"


def said_words(said: LoadWord, today: date) -> str:
    """What a trainer answered, and when."""
    way = {"up": "Go up to", "stay": "Stay at", "lower": "Go down to"}[said.choice]
    return f"{way} {load_words(said.load, said.unit)} next time. {said.by} said so {said_on(said, today)}."


def said_on(said: LoadWord, today: date) -> str:
    """``today``, ``on Mon 2 March``."""
    day = day_words(day_of(said.at), today)
    return day if day in ("today", "yesterday") else f"on {day}"


def next_load(said: LoadWord, today: date) -> str:
    """The load that a member sets next, before they film."""
    was = "as last time" if said.choice == "stay" else f"last time {load_words(said.before, said.unit)}"
    return (
        f"Load to set next: {load_words(said.load, said.unit)}, {was}. {said.by} said so "
        f"{said_on(said, today)}. With sharp or joint pain, do not start: tell your trainer."
    )
