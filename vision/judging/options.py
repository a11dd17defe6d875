"""What a user may say beside the clip and the exercise."""

from __future__ import annotations

from dataclasses import dataclass

from shared.keypoints import Side
from shared.member import Member
from vision.judging.approved import Reference
from vision.measuring.pivot import DEPTH_CM
from vision.seeing.marks import MarkPoint
from vision.seeing.subject import SubjectPoint


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
