"""What the question about the load depends on: the rule, its steps and each machine's stack, with sources."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from app.rules.history import SetRecord
from app.rules.stack import IN_PINS, SAME, USUAL, Stack
from shared.definition import Strict
from shared.exercise import Source

Count = Annotated[int, Field(ge=1, le=100)]


class Rule(Strict):
    """When more load is a question at all: ``beyond`` repetitions over the target, ``times`` running.

    per: whether every set counts, or the last set of each day of training. slowed_percent: a set whose last
    repetitions took longer by more than this is not steady.
    """

    beyond: Annotated[int, Field(ge=0, le=50)] = 0
    times: Annotated[int, Field(ge=1, le=10)] = 2
    per: Literal["set", "day"] = "set"
    slowed_percent: Annotated[float, Field(gt=0, le=200)] = 25.0
    source: Source = Source(
        kind="common practice",
        cite="no published source; two sets running at the upper end of the target, steady, without an open "
        "fault and not felt hard",
    )


#: Rules that a settings file may name instead of writing its own.
RULES = {
    "upper-end": Rule(),
    "two-for-two": Rule(
        beyond=2,
        per="day",
        source=Source(
            kind="published",
            cite="NSCA, Essentials of Strength Training and Conditioning, the two-for-two rule: two or more "
            "repetitions over the goal in the last set, two sessions running; known second-hand",
        ),
    ),
}


class Increase(Strict):
    """How large one step may be, in percent of the load; ``guide``: what else is usual, in words.

    reps_first: a larger step than that waits for so many repetitions more, and is asked then all the same;
    the add-on weight does not wait: there is no smaller step.
    """

    at_most_percent: Annotated[float, Field(gt=0, le=100)] = 10.0
    reps_first: Annotated[int, Field(ge=0, le=50)] = 3
    source: Source = Source(
        kind="published",
        cite="ACSM position stand 2009 (Med Sci Sports Exerc 41:687): 2 to 10 %; its abstract was read, "
        "not the whole. Of a newer ACSM stand of 2026 we know only second-hand, so nothing rests on it",
    )
    guide: str = (
        "NSCA, Essentials (from memory), for less trained people: steps of 5 to 10 lb (2 to 4 kg) for the "
        "legs, 2.5 to 5 lb (1 to 2 kg) for arms and trunk; about twice that for the more trained"
    )


class Settings(Strict):
    """Everything that the question depends on; ``stacks`` by exercise, ``stack`` for the others."""

    target_reps: tuple[Count, Count] = (12, 15)
    rule: Rule = RULES["upper-end"]
    increase: Increase = Increase()
    stack: Stack | None = None
    stacks: dict[str, Stack] = Field(default_factory=dict)

    @field_validator("rule", mode="before")
    @classmethod
    def _named(cls, rule: object) -> object:
        if not isinstance(rule, str):
            return rule
        if rule not in RULES:
            raise ValueError(f"there is no rule {rule!r}; there are {' and '.join(RULES)}")
        return RULES[rule]

    @model_validator(mode="after")
    def _ordered(self) -> Settings:
        if self.target_reps[0] > self.target_reps[1]:
            raise ValueError("target_reps: the first number must not be larger than the second")
        return self

    @property
    def goal(self) -> int:
        """Repetitions from which a set speaks for more load."""
        return self.target_reps[1] + self.rule.beyond

    def told_stack(self, exercise: str) -> Stack | None:
        """What the studio says of a machine; None where it says nothing."""
        return self.stacks.get(exercise, self.stack)

    def stack_of(self, record: SetRecord) -> Stack:
        """The stack that a set was done on, else a usual one; a pin of an unknown one moves by plates."""
        told = self.told_stack(record.exercise)
        if told is not None:
            return told
        if record.unit in IN_PINS:
            return USUAL["lb"].model_copy(update={"add_ons": 0})
        return USUAL[record.unit]

    def rise_kg(self, before: SetRecord, after: SetRecord) -> float | None:
        """By how much a load weighs more; None for a pin and a weight where the stack is not known."""
        comparable = (before.unit in IN_PINS) == (after.unit in IN_PINS)
        if not comparable and self.told_stack(after.exercise) is None:
            return None
        stack = self.stack_of(after)
        return stack.kg(after.load, after.unit) - stack.kg(before.load, before.unit)

    def same_load(self, before: SetRecord, after: SetRecord) -> bool:
        """Whether two sets were done at one load."""
        rise = self.rise_kg(before, after)
        return rise is not None and abs(rise) < SAME * self.stack_of(after).smallest_kg
