"""What stands on a settings card, in words: the same on the page and on the printed sheet."""

from __future__ import annotations

from app.rules.card_limit import limit_words
from app.rules.room import Room
from app.rules.words import CARD_WORDS, exercise_of, tempo_words
from app.store.cards import limit_of
from app.store.models import Card
from shared.exercise import Exercise, Tempo

#: How a step of getting in names the card.
AS_ON_CARD = " as on your card:"


def kept_on(card: Card, room: Room, tempo: Tempo | None = None) -> list[tuple[str, str]]:
    """(word, value) of all that is kept, and the tempo that is asked.

    What the checks go by stands apart from limits in words.
    """
    kept = [(word, str(getattr(card, name))) for name, word in CARD_WORDS.items() if getattr(card, name)]
    kept += (
        [("Usual load", room.load_words(card.usual_load, card.unit))] if card.usual_load is not None else []
    )
    exercise = exercise_of(card.exercise)
    kept += [("Tempo", tempo_words(tempo, exercise))] if tempo else []
    checked = limit_words(limit_of(card), exercise)
    kept += [("Limit", checked)] if checked else []
    return kept + ([("Other limits", card.limits)] if card.limits else [])


def steps_for(card: Card, exercise: Exercise) -> list[str]:
    """How to get in, with the card named only for what it holds: else ``Back pad: knees in line``."""
    return [step if _held(card, step) else step.replace(AS_ON_CARD, ":", 1) for step in exercise.setup]


def _held(card: Card, step: str) -> bool:
    """Whether the card holds the setting that a step begins with."""
    begins = step.partition(" ")[0]
    return any(getattr(card, key) for key, word in CARD_WORDS.items() if word.startswith(begins))


def asked_settings(card: Card, exercise: Exercise | None) -> dict[str, str]:
    """Field and word of the settings that a card asks: what the machine has, and what is kept already."""
    asked = CARD_WORDS if exercise is None else exercise.settings
    return {key: word for key, word in CARD_WORDS.items() if key in asked or getattr(card, key)}
