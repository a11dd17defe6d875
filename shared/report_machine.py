"""The part of a report that tells what marks and printed tags on the machine gave."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field

from shared.domain import Unit
from shared.places import Sight


class Part(BaseModel):
    """Older readers ignore fields they do not know; older reports still open."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class SpanPart(Part):
    """A stretch of the clip in s."""

    start_s: float
    end_s: float


class MarkPart(Part):
    """A point that a person marked: pixels of the upright picture, seconds.

    seen_share: share of the frames in which it was followed; confidence: median agreement with the
    marked picture, 0..1; lost: where it was not known; tag: whether it is a printed tag; board_half_cm: of
    a mark that was taken from the frame board, how far it may be off.
    """

    name: str
    x: float
    y: float
    time_s: float
    seen_share: float
    confidence: float | None
    lost: list[SpanPart] = Field(default_factory=list)
    tag: bool = False
    board_half_cm: float | None = None


class LoadRepPart(Part):
    """One repetition as the load made it; peak speeds in ``unit`` per s, landing speed in cm per s.

    rest_s: seconds within 1 cm of the lowest place before the next repetition; null: not known. start_s to
    end_s: the moments of the load's own phases.
    """

    number: int
    lift_s: float | None
    lower_s: float | None
    lift_peak_speed: float | None
    lower_peak_speed: float | None
    landing_speed_cm: float | None
    rest_s: float | None
    start_s: float | None = None
    turn_s: float | None = None
    lower_start_s: float | None = None
    end_s: float | None = None


class LoadPart(Part):
    """The load as its mark shows it; count: its own repetitions, null when the mark was lost too long.

    lowest_is_stack: whether the load was seen lying still before or after the set.
    """

    unit: Unit
    count: int | None
    lowest_is_stack: bool
    rests: list[SpanPart] = Field(default_factory=list)
    reps: list[LoadRepPart] = Field(default_factory=list)


class PivotPart(Part):
    """The machine's axis from the knee's: along the thigh (positive beyond the knee) and across (above)."""

    unit: Unit
    distance: float
    along: float
    across: float
    uncertainty: float
    change: float | None
    change_uncertainty: float
    depth_cm: float
    knee_marked: bool


class LeverPart(Part):
    """The lever by its tag; range_deg: median over the full repetitions of how far it turns."""

    range_deg: float | None
    uncertainty: float


class BoardPart(Part):
    """How the phone was turned against a line straight at the frame board, degrees; all null: see why.

    turn_deg: left, as from further right; down_deg: looking down; distance_cm: least and most, by
    the lenses that phones film with.
    """

    turn_deg: float | None
    down_deg: float | None
    uncertainty: float | None
    distance_cm: tuple[float, float] | None
    why: str = ""


class MachinePart(Part):
    """What marks and printed tags on the machine gave; sights: where what was marked lies from the board."""

    marks: list[MarkPart]
    load: LoadPart | None = None
    pivot: PivotPart | None = None
    lever: LeverPart | None = None
    board: BoardPart | None = None
    sights: list[Sight] = Field(default_factory=list)
