"""What was found in a recording: sets that seem to be there, and the file that tells what came of each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from pydantic import Field

from shared.report_machine import Part

#: Fewer full repetitions are no set.
FEWEST_REPS = 3
#: How the machine, and who trained, were told.
MachineBy = Literal["tags", "option", "movement", "unknown"]
WhoBy = Literal["card", "unknown"]


@dataclass(frozen=True)
class Likely:
    """A set that seems to be there; moments in s of the recording.

    start_s, end_s: the movement, coarse; cut_start_s, cut_end_s: where to cut; sitting: which stay on the
    seat it belongs to, from 0 on; swings: of the limbs, there and back counted apart; card: the number held
    to the camera before it; tag: the machine's by its printed tags; fits: names of the machines that the
    movement fits; at: a point on the person, px, and its moment, where somebody else sat in the picture as
    well. None and empty where not told.
    """

    start_s: float
    end_s: float
    cut_start_s: float
    cut_end_s: float
    sitting: int
    swings: int
    card: int | None = None
    tag: int | None = None
    fits: tuple[str, ...] = ()
    at: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class LikelySets:
    """duration_s: of the recording; stirred_s: how much of it anything moved in; sets: in time order.

    recorded_at: when the file says that it was recorded, its beginning or its end; None where it does not.
    """

    duration_s: float
    stirred_s: float
    sets: tuple[Likely, ...]
    recorded_at: datetime | None = None


class SetPart(Part):
    """One set; moments are seconds of the recording.

    clip, report: files under the folder of ``sets.json``; clip_start_s: where the cut begins; sure: how the
    machine was told, in words; count, report: null where the set was not judged, and problem says why.
    """

    number: int
    who: str
    who_by: WhoBy
    exercise: str | None
    exercise_by: MachineBy
    sure: str
    start_s: float
    end_s: float
    count: int | None
    clip: str
    clip_start_s: float
    report: str | None = None
    problem: str | None = None


class PassedPart(Part):
    """A movement that was looked at closely and is no set, and why."""

    start_s: float
    end_s: float
    why: str


class SetsFile(Part):
    """``sets.json``: all that was found in a recording."""

    schema_: Literal["plumbset.sets/1"] = Field("plumbset.sets/1", alias="schema")
    recording: str
    duration_s: float
    stirred_s: float
    sets: list[SetPart] = Field(default_factory=list)
    passed_over: list[PassedPart] = Field(default_factory=list)
    cautions: list[str]

    def to_json(self) -> str:
        """The file as indented JSON."""
        return self.model_dump_json(by_alias=True, indent=2) + "\n"
