"""A reviewed set to try: a rendered sample clip, told as a trainer would hand it over."""

from __future__ import annotations

from typing import Any

from app.page.assets import SAMPLE, SAMPLE_CLIP
from app.page.demo_history import truth_of
from app.page.theme import OURS
from app.rules.told import Prompt, Told
from shared.exercise import Exercise, find_exercise
from vision.common.prompts import member_prompt

NOTE = "A rendered figure in an invented room: nobody's set. What is wrong in it was put there on purpose."


def there() -> bool:
    """Whether the sample clips came with this installation."""
    return SAMPLE_CLIP.is_file()


def sample() -> tuple[Exercise, dict[str, Any], Told]:
    """The machine, the clip with its repetitions, and what is told of them."""
    truth = truth_of(SAMPLE_CLIP)
    exercise = find_exercise(truth["exercise"])
    prompts = [_prompt(exercise, check, truth["faults"]) for check in _checks(truth["faults"])]
    marked = {rep for prompt in prompts for rep in prompt.reps}
    reps = [
        {
            "number": r["number"], "start": r["start_s"], "end": r["end_s"] + (r["rest_s"] or 0.0),
            "partial": r["partial"], "told": r["number"] in marked,
        }
        for r in truth["reps"]
    ]  # fmt: skip
    told = Told("released", f"{truth['count']} reps", prompts=prompts, count=truth["count"], by="The trainer")
    return exercise, {"src": f"{OURS}{SAMPLE}", "reps": reps}, told


def _checks(faults: list[dict[str, Any]]) -> list[str]:
    return list(dict.fromkeys(one["check"] for one in faults))


def _prompt(exercise: Exercise, check: str, faults: list[dict[str, Any]]) -> Prompt:
    spec = next(one for one in exercise.checks if one.id == check)
    of_check = [one for one in faults if one["check"] == check]
    words = member_prompt(spec, "flag", measured=of_check[0]["measure"], uncertainty=1.0)
    return Prompt(spec.title, words or spec.title, [one["rep"] for one in of_check], origin="agreed")
