"""A limit of a check: what a good repetition keeps to."""

from __future__ import annotations

import math

from pydantic import model_validator

from shared.definition import Strict

Bound = float | tuple[float | None, float | None] | None


class Length(Strict):
    """A length limit: in centimetres, and in trunk lengths when no body height is known."""

    cm: float
    trunk_fraction: float


class Limit(Strict):
    """What a good repetition keeps to: at most, at least, or between the two."""

    at_most: float | Length | None = None
    at_least: float | Length | None = None

    @model_validator(mode="after")
    def _sensible(self) -> Limit:
        if self.at_most is None and self.at_least is None:
            raise ValueError("give at_most, at_least or both")
        for in_cm in {False, self.is_length}:
            low, high = self.resolved(in_cm)
            if low is not None and high is not None and low > high:
                raise ValueError(f"at_least, {low:g}, must not be larger than at_most, {high:g}")
        return self

    @property
    def is_length(self) -> bool:
        """Whether the limit has both length units."""
        return isinstance(self.at_most, Length) or isinstance(self.at_least, Length)

    def resolved(self, in_cm: bool) -> tuple[float | None, float | None]:
        """(at_least, at_most) as numbers; in_cm picks the unit of a length."""

        def number(value: float | Length | None) -> float | None:
            if isinstance(value, Length):
                return value.cm if in_cm else value.trunk_fraction
            return value

        return number(self.at_least), number(self.at_most)

    def told(self, in_cm: bool) -> Bound:
        """As reports give it: one number for a limit with one side, (at_least, at_most) for one with two."""
        at_least, at_most = self.resolved(in_cm)
        if at_least is None or at_most is None:
            return at_most if at_least is None else at_least
        return at_least, at_most


def beyond(value: float, at_least: float | None, at_most: float | None) -> float:
    """How far a value lies beyond a limit, in its unit: negative when it keeps it, -inf without a limit."""
    over = -math.inf if at_most is None else value - at_most
    under = -math.inf if at_least is None else at_least - value
    return max(over, under)
