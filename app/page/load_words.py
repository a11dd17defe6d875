"""The question about the load as each of them reads it: the trainer decides, the member may ask."""

from __future__ import annotations

import re
from datetime import date

from app.rules.progress import Advice
from app.rules.words import day_words, load_words

ALWAYS_ASK = "The load is changed by your trainer, or with them. Pain comes first: tell it before any set."


def for_trainer(advice: Advice) -> str:
    """The question as put to the one who decides."""
    if advice.answer != "ask-trainer":
        return with_days(advice.question)
    worry = with_days(advice.worry)
    return f"No question of more load yet: {worry}. Settle that first, then look at the load again."


def with_days(text: str) -> str:
    """A sentence with its dates as days: ``Mon 2 March 2026`` for ``2026-03-02``."""
    return re.sub(r"\d{4}-\d\d-\d\d", lambda found: day_words(date.fromisoformat(found[0]), date.min), text)


def for_member(advice: Advice) -> str:
    """What a member may take to their trainer; nothing of what the trainer has not handed over."""
    now = load_words(advice.last.load, advice.last.unit)
    count = advice.last.repetitions
    said = {
        "ask-trainer": f"Stay at {now} or lighter, and speak to your trainer before the load is changed.",
        "hold-or-lower": (
            f"Your last set stopped at {count} with {now}. Ask your trainer whether to keep it or go lighter."
        ),
        "hold": f"Your last set had {count} with {now}. Nothing speaks for another load yet.",
        "more-repetitions-first": (
            f"Your last sets went well at {now}. The next step of the stack is a large one: ask your trainer "
            "whether to go for more repetitions first."
        ),
        "more-load": f"Your last sets went well at {now}. Ask your trainer whether it is time for more.",
    }
    return said[advice.answer]
