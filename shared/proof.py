"""What printed tags proved of a studio's own clips, as numbers by machine: no clip, no name, no day.

``plumbset proof --share`` writes them; a later check of that machine may be told to carry intervals as wide.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from pydantic import Field

from shared.definition import Strict, checked, read_json

What = Literal["count", "lift", "hold", "lower", "pause", "range"]
#: Fewer clips than this prove nothing about those to come.
FEW_CLIPS = 5


class Agreement(Strict):
    """Body less tag over n pairs: mean, standard deviation, limits of agreement; null for too few pairs.

    unit: of all of them, s or degrees.
    """

    what: What
    unit: str
    n: int = Field(ge=1)
    mean: float
    sd: float | None = Field(default=None, ge=0)
    low: float | None = None
    high: float | None = None


class MachineProof(Strict):
    """One machine: how many clips with a tag were judged, and what they gave."""

    clips: int = Field(ge=0)
    agreement: list[Agreement]


class Proof(Strict):
    """The numbers of a studio, by the name of the exercise."""

    schema_: Literal["plumbset.proof/1"] = Field("plumbset.proof/1", alias="schema")
    machines: dict[str, MachineProof]

    def of(self, exercise: str, *what: What) -> list[Agreement]:
        """What is proved of some quantities; nothing where too few clips or pairs were."""
        machine = self.machines.get(exercise)
        if machine is None or machine.clips < FEW_CLIPS:
            return []
        return [one for one in machine.agreement if one.what in what and one.sd is not None]


def read_proof(path: Path) -> Proof:
    """Read what ``plumbset proof --share`` wrote; DefinitionError where it is none of it."""
    return checked(Proof, read_json(path), path)
