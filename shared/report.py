"""The report of one set, schema ``plumbset.set-report/1``; its JSON Schema is the documented format."""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from shared.domain import Rep, Unit, Verdict, ViewName
from shared.faults import is_fact
from shared.limit import Bound, beyond
from shared.report_machine import MachinePart, Part


class ClipPart(Part):
    """The clip as measured; file is a name, never a path."""

    file: str
    duration_s: float
    frames: int
    fps_mean: float
    width: int
    height: int
    rotation_deg: int


class ProblemPart(Part):
    """Why a clip is not fit to judge, and how to film again."""

    code: str
    text: str


class QualityPart(Part):
    """Whether the clip can be judged; view_deg: degrees off the nearest accepted view."""

    usable: bool
    view: ViewName | None
    view_deg: float | None = None
    problems: list[ProblemPart] = Field(default_factory=list)
    notes: list[str] = Field(default_factory=list)


class RepPart(Part):
    """One repetition; seconds since the first frame's timestamp."""

    number: int
    start_s: float
    turn_s: float
    lower_start_s: float
    end_s: float
    lift_s: float
    hold_s: float
    lower_s: float
    rest_s: float | None
    drive_min_deg: float
    drive_max_deg: float
    lift_peak_speed: float
    lower_peak_speed: float
    partial: bool

    @classmethod
    def of(cls, rep: Rep) -> RepPart:
        """A repetition as the report gives it, rounded to a tenth of a millisecond."""

        def r(value: float) -> float:
            return round(value, 4)

        return cls(
            number=rep.number, start_s=r(rep.start_s), turn_s=r(rep.turn_s),
            lower_start_s=r(rep.lower_start_s), end_s=r(rep.end_s), lift_s=r(rep.lift_s),
            hold_s=r(rep.hold_s), lower_s=r(rep.lower_s),
            rest_s=None if rep.rest_s is None else r(rep.rest_s),
            drive_min_deg=r(rep.drive_min), drive_max_deg=r(rep.drive_max),
            lift_peak_speed=r(rep.lift_peak_speed), lower_peak_speed=r(rep.lower_peak_speed),
            partial=rep.partial,
        )  # fmt: skip


class Spread(Part):
    """mean, sd and coefficient of variation in %, trend in seconds per repetition."""

    mean: float
    sd: float
    cv_percent: float | None
    trend_per_rep: float | None


class TempoPart(Part):
    """Tempo of the set over its counted repetitions.

    asked_s: lift and lower where a tempo was asked; speed_word: against that, else against common practice.
    """

    lift_s: Spread | None = None
    hold_s: Spread | None = None
    lower_s: Spread | None = None
    rest_s: Spread | None = None
    duration_s: Spread | None = None
    speed_word: Literal["slow", "moderate", "fast"] | None = None
    asked_s: tuple[float, float] | None = None
    sentence: str


class FindingPart(Part):
    """What one check says of a repetition, or of the set (rep None); clip: which of two clips answered."""

    check: str
    rep: int | None
    time_s: float | None
    frame: int | None
    verdict: Verdict
    measured: float | None
    uncertainty: float | None
    limit: Bound
    unit: Unit
    prompt: str | None
    reason: str | None = None
    reason_code: str | None = None
    probability: float | None = None
    points: list[str] = Field(default_factory=list)
    title: str = ""
    clip: str | None = None

    @property
    def excess(self) -> float:
        """How far past its limit the value lies, in its unit; 0 where it is clear or that is not known.

        A limit of one number does not say its side, so the distance counts: what only a probability raises
        may lie within.
        """
        if self.verdict == "clear" or self.measured is None or self.limit is None:
            return 0.0
        if isinstance(self.limit, int | float):
            return abs(self.measured - self.limit)
        return max(beyond(self.measured, *self.limit), 0.0)

    @property
    def clearness(self) -> tuple[float, float]:
        """How clearly it is a fault, larger is clearer: its probability, else how far past its limit it is.

        What lies within its limit has a probability, so that a large distance makes it no clearer.
        """
        return (0.0 if self.probability is None else self.probability, self.excess)


class UnjudgedPart(Part):
    """What could still be followed in a clip that is not fit to judge."""

    count: int
    reps: list[RepPart]


class ScalePart(Part):
    """Which length unit the report uses, and from what."""

    unit: Literal["cm", "trunk_fraction"]
    height_cm: float | None = None
    cm_per_px: float | None = None


class OwnLimitPart(Part):
    """A limit of this member that stood in place of the definition's; usual is null for an added check."""

    check: str
    title: str
    limit: Bound
    usual: Bound = None
    unit: Unit


class MemberPart(Part):
    """The member's own yardstick as far as this set met it."""

    new: bool = False
    limits: list[OwnLimitPart] = Field(default_factory=list)
    usual_range: float | None = None


class DriftPart(Part):
    """One thing that moved from the approved set beyond what can be measured; medians, then and now."""

    what: str
    then: float
    now: float
    uncertainty: float
    unit: Unit
    text: str


class ReferencePart(Part):
    """The comparison with an approved set; clip is that set's file name."""

    clip: str
    drifts: list[DriftPart] = Field(default_factory=list)
    notes: list[str] = Field(default_factory=list)


class SetReport(Part):
    """The report of one set; clips: both where it was filmed twice; other_machines: those it looks like."""

    schema_: Literal["plumbset.set-report/1"] = Field("plumbset.set-report/1", alias="schema")
    exercise: str
    clip: ClipPart
    clips: list[ClipPart] = Field(default_factory=list)
    quality: QualityPart
    count: int | None
    reps: list[RepPart] = Field(default_factory=list)
    unjudged: UnjudgedPart | None = None
    tempo: TempoPart | None = None
    findings: list[FindingPart] = Field(default_factory=list)
    scale: ScalePart
    notices: list[str] = Field(default_factory=list)
    other_machines: list[str] = Field(default_factory=list)
    member: MemberPart | None = None
    reference: ReferencePart | None = None
    machine: MachinePart | None = None
    cautions: list[str]
    steps: list[str] = Field(default_factory=list)
    versions: dict[str, Any]

    def flags(self) -> list[FindingPart]:
        """Findings a member hears of; a fact of the set is none, though reports of before called it one."""
        return [f for f in self.findings if f.verdict == "flag" and not is_fact(f.check)]

    def to_json(self) -> str:
        """The report as indented JSON, byte for byte the same for the same report."""
        return self.model_dump_json(by_alias=True, indent=2) + "\n"

    @classmethod
    def from_json(cls, text: str) -> SetReport:
        """Read a report back; pydantic's ValidationError when it is none."""
        return cls.model_validate_json(text)
