"""What is still told of older sets where the settings card has a limit: never a cue that breaks it."""

from __future__ import annotations

from dataclasses import replace

from app.rules.card_limit import CardLimit, as_for, limit_words
from app.rules.told import Prompt
from shared.exercise import Exercise
from shared.faults import OWN_RANGE, is_own_range


def inside(prompt: Prompt, limit: CardLimit, exercise: Exercise | None) -> Prompt:
    """The prompt, or the limit in its place where it speaks of an end that the card bounds.

    So is the cue of a limit that has since been changed. What a trainer worded stays, the limit behind it.
    """
    said = limit_words(limit, exercise)
    if exercise is None or not said or not _breaks(prompt, limit, exercise):
        return prompt
    words = f"Stay inside your limit: {said[:1].lower()}{said[1:]}."
    if prompt.origin == "reworded":
        words = f"{prompt.words} {words}"
    return replace(prompt, words=words, check=OWN_RANGE)


def _breaks(prompt: Prompt, limit: CardLimit, exercise: Exercise) -> bool:
    """Whether a prompt was worded for another end of the movement than the card gives now."""
    if is_own_range(prompt.check):
        bounds = [b for one in limit.bounds().values() for b in (one.at_least, one.at_most) if b is not None]
        return not any(f" {bound:g} degrees" in prompt.words for bound in bounds)
    bounded = {spec.id for spec in as_for(exercise, limit).checks}
    return prompt.check in {spec.id for spec in exercise.checks} - bounded
