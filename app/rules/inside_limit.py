"""What a member reads of their own limit: no older cue that breaks it, and where it was not checked."""

from __future__ import annotations

from dataclasses import replace

from app.rules.card_limit import CardLimit, as_for, limit_words
from app.rules.told import Prompt
from shared.exercise import Exercise
from shared.faults import OWN_RANGE, is_own_range
from shared.own_range import SIDES
from shared.report import FindingPart, SetReport

#: What stands for the limit of a side where the clip does not show that side by itself.
_HIDDEN = {f"{OWN_RANGE}{side}": side for side in SIDES}


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


def hidden_limits(report: SetReport) -> list[FindingPart]:
    """What says that the limit of a knee or an arm could not be checked in this clip."""
    return [f for f in report.findings if f.check in _HIDDEN and f.verdict == "cannot-tell"]


def not_checked(report: SetReport) -> list[str]:
    """The same, a sentence each, as the member reads it."""
    return [
        f"{(f.title or 'The limit').replace('The', 'Your', 1)} was not checked: the clip does not show that "
        f"side by itself. Film your next set from the {_HIDDEN[f.check]}."
        for f in hidden_limits(report)
    ]
