"""A machine's stack: the loads that its pin and its add-on weights allow, in the unit they are written in."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Literal

from pydantic import Field

from app.rules.history import KG_PER_LB, LoadUnit
from shared.definition import Strict
from shared.exercise import Source

Weight = Annotated[float, Field(gt=0, le=200)]
#: Loads nearer to each other than this share of the smallest step are the same; one that lies further than
#: the smaller share from every load of a stack is none of them.
SAME, HELD = 0.25, 0.05
#: What is written for a pin with the add-on weight on top: 3.5 for the third plate and the add-on.
WITH_ADD_ON = 0.5
#: Units that name a place on the stack, and no weight.
IN_PINS = ("pin", "plates")


class Stack(Strict):
    """start: what the top plate weighs, step: each further one; add_on: a weight laid on top, of which
    ``add_ons`` lie at hand. All in ``unit``.
    """

    unit: Literal["kg", "lb"]
    start: Weight
    step: Weight
    add_on: Weight
    add_ons: Annotated[int, Field(ge=0, le=10)] = 1
    source: Source = Source(kind="common practice", cite="no published source; as the machine is marked")

    def kg(self, load: float, unit: LoadUnit) -> float:
        """What a load weighs in kg; pin and plates count from the top plate."""
        if unit not in IN_PINS:
            return load * _in_kg(unit)
        plates, more = divmod(load, 1.0)
        return (self.start + (plates - 1) * self.step + bool(more) * self.add_on) * _in_kg(self.unit)

    @property
    def smallest_kg(self) -> float:
        """The smallest step in kg."""
        return min(self.add_on if self.add_ons else self.step, self.step) * _in_kg(self.unit)

    def by_add_on(self, kg: float) -> bool:
        """Whether a step of so many kg is that of the add-on weight alone."""
        return bool(self.add_ons) and kg <= (1 + SAME) * self.add_on * _in_kg(self.unit)

    def neighbour(self, load: float, unit: LoadUnit, way: Literal[1, -1]) -> float | None:
        """The nearest load above (1) or below (-1) as it is written; None below the first plate.

        A weight that the stack does not hold, such as one read off other plates, moves by the smallest step.
        """
        now = self.kg(load, unit)
        rungs = list(self._rungs(unit))
        slack = HELD * self.smallest_kg
        if unit not in IN_PINS and not any(abs(self.kg(rung, unit) - now) <= slack for rung in rungs):
            rungs = [round(load + way * self.smallest_kg / _in_kg(unit), 2)]
        beyond = [r for r in rungs if way * (self.kg(r, unit) - now) > slack and r > 0]
        if not beyond:
            return None
        return min(beyond) if way > 0 else max(beyond)

    def _rungs(self, unit: LoadUnit) -> Iterable[float]:
        """What people write for each load of the stack, plate by plate."""
        for plate in range(1, 200):
            for more in range(self.add_ons + 1):
                if unit not in IN_PINS:
                    weight = self.start + (plate - 1) * self.step + more * self.add_on
                    yield round(weight * _in_kg(self.unit) / _in_kg(unit), 2 if unit == self.unit else 1)
                elif more <= 1:
                    yield plate + more * WITH_ADD_ON


#: Where a studio has not said what its machine holds. In common use, no published source.
_USUAL = Source(
    kind="common practice", cite="no published source; plates of 15 lb or 5 kg, add-on of 5 lb or 2.5 kg"
)
USUAL = {
    "lb": Stack(unit="lb", start=15, step=15, add_on=5, source=_USUAL),
    "kg": Stack(unit="kg", start=5, step=5, add_on=2.5, source=_USUAL),
}


def _in_kg(unit: str) -> float:
    return KG_PER_LB if unit == "lb" else 1.0
