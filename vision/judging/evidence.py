"""What checks give: evidence, which ``vision/judging/findings.py`` alone holds against a limit."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shared.domain import Unit

#: The code of what a clip filmed from there can never answer.
VIEW = "view"


@dataclass(frozen=True, kw_only=True)
class Stricter:
    """A smaller limit (in the check's unit), how likely it is that it holds here, and why it does."""

    limit: float
    probability: float
    note: str


@dataclass(frozen=True, kw_only=True)
class LimbEnd:
    """A joint's largest angle at one end, to be weighed as a lockout.

    change: degrees beyond the lower quartile of the set's other repetitions, so that of many locked out each
    stands out; None with too few of them.
    """

    joint: str
    change: float | None


@dataclass(frozen=True, kw_only=True)
class Measurement:
    """What a check saw: a value with the half-width of its 90 % interval, and when it shows best.

    rep: the repetition's number, None for the whole set. time_s: None for counts and durations over the
    set. points: what to draw. note: told in any case; doubt: told unless the verdict is clear.

    By itself the interval decides. What else there is to weigh:
    share: probability that whatever else the fault needs was there; with it, or for a question, the
    probability of lying beyond the limit decides. question: at most one for the trainer.
    stricter, limb: see there. instead: the same seen in another way; the clearer of both answers.
    per_rep: (repetition, value) from which "from repetition 9 on" is told. probability: P of the fault
    where other findings gave it.
    """

    rep: int | None
    value: float
    uncertainty: float
    unit: Unit
    time_s: float | None
    points: tuple[str, ...] = ()
    note: str = ""
    doubt: str = ""
    share: float | None = None
    question: bool = False
    stricter: Stricter | None = None
    limb: LimbEnd | None = None
    instead: Measurement | None = None
    per_rep: tuple[tuple[int, float], ...] = ()
    probability: float | None = None

    def rounded(self) -> Measurement:
        """Value and uncertainty as the report gives them."""
        return replace(self, value=round(self.value, 4), uncertainty=round(self.uncertainty, 4))


@dataclass(frozen=True)
class NotMeasured:
    """Why a check could not measure, in words for the trainer; ``code`` is for machines."""

    rep: int | None
    reason: str
    code: str = "not-measured"


Answer = Measurement | NotMeasured
