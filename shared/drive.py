"""The signal that counts an exercise's repetitions, as its definition says."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shared.definition import Strict, Text

#: Share of the usual range from which a repetition is full, and is counted.
FULL_SHARE = 0.70


class LooksShort(Strict):
    """A whole repetition may seem to be of this share of the usual range only; why: in words for a trainer.

    Between two full ones such a repetition is counted, and how far it went is asked.
    """

    from_share: Annotated[float, Field(gt=0.3, lt=FULL_SHARE)]
    why: Text


class Drive(Strict):
    """The signal that counts repetitions; ``lift`` says which way it goes as the load rises.

    min_range: less movement than this (drive units) is no repetition; min_reps: fewer full
    repetitions than this are no set. looks_short: where something else than a short way may shorten it.
    """

    signal: str
    lift: Literal["rising", "falling"]
    min_range: Annotated[float, Field(gt=0)] = 20.0
    min_reps: Annotated[int, Field(ge=2)] = 3
    looks_short: LooksShort | None = None

    def may_be_whole(self, share: float) -> bool:
        """Whether a repetition told to be of this share of the usual range may have gone all the way."""
        return self.looks_short is not None and share >= self.looks_short.from_share

    def asked_of(self, share: float) -> str:
        """Why it is only asked how far a repetition of that share went; empty where it is told."""
        return self.looks_short.why if self.looks_short and self.may_be_whole(share) else ""
