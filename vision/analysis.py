"""What one run of the pipeline leaves: the report and every stage it was made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shared.domain import Clip, Landmarks, RepSet, Signal, Track
from shared.exercise import Exercise
from shared.keypoints import Side
from shared.member import Member
from shared.report import SetReport
from vision.approved import Reference
from vision.machine import Machine
from vision.marks import MarkPoint
from vision.pivot import DEPTH_CM


@dataclass(frozen=True)
class SubjectPoint:
    """A pixel of the upright picture on the person to judge, at a moment (s)."""

    x: float
    y: float
    time_s: float = 0.0


@dataclass(frozen=True)
class Options:
    """What a user may say beside the clip and the exercise; the defaults say nothing.

    side: the side to judge in a side view; subject: a point on the person; height_cm: body
    height, for centimetres; cleared: a trainer has cleared the member for this exercise; raw:
    leave out learnt corrections; member: the member's own limits; reference: an approved set;
    marks: points of the machine; pivot_depth_cm: how much nearer to the camera a marked pivot is than
    the knee; thorough: look twice even where nothing is flagged.
    """

    side: Side | None = None
    subject: SubjectPoint | None = None
    height_cm: float | None = None
    cleared: bool = False
    raw: bool = False
    member: Member | None = None
    reference: Reference | None = None
    marks: tuple[MarkPoint, ...] = ()
    pivot_depth_cm: float = DEPTH_CM
    thorough: bool = False


@dataclass(frozen=True)
class Analysis:
    """The stages of one clip. track and reps are None where the clip was not fit for them.

    looks: who was found, look by look; subject: the person judged, one slot.
    """

    clip: Clip
    exercise: Exercise
    options: Options
    looks: tuple[Landmarks, ...]
    subject: Landmarks
    track: Track | None
    signals: Mapping[str, Signal]
    reps: RepSet | None
    report: SetReport
    machine: Machine | None = None
