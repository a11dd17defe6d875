"""What a user may say beside the clip and the exercise."""

from __future__ import annotations

from dataclasses import dataclass

from shared.domain import ViewName
from shared.exercise import Exercise
from shared.keypoints import Side
from shared.member import Member, with_member
from shared.places import Sight
from shared.proof import Proof
from vision.judging.approved import Reference
from vision.measuring.machine.pivot import DEPTH_CM
from vision.seeing.marks import MarkPoint
from vision.seeing.subject import SubjectPoint


@dataclass(frozen=True)
class Options:
    """What a user may say beside the clip and the exercise; the defaults say nothing.

    side: the side to judge in a side view; subject: a point on the person; height_cm: body
    height, for centimetres; cleared: a trainer has cleared the member for this exercise; raw:
    leave out learnt corrections; member: the member's own limits; reference: an approved set;
    marks: points of the machine; sights: where its parts lie against its frame board, for those that are not
    marked; pivot_depth_cm: how much nearer to the camera a marked pivot is than the knee; thorough: look
    twice even where nothing is flagged; proof: what tags proved of the studio's clips, so that no interval is
    told narrower than that.
    """

    side: Side | None = None
    subject: SubjectPoint | None = None
    height_cm: float | None = None
    cleared: bool = False
    raw: bool = False
    member: Member | None = None
    reference: Reference | None = None
    marks: tuple[MarkPoint, ...] = ()
    sights: tuple[Sight, ...] = ()
    pivot_depth_cm: float = DEPTH_CM
    thorough: bool = False
    proof: Proof | None = None

    def exercise(self, definition: Exercise, shown: Side | None) -> Exercise:
        """The exercise with the member's own limits and the tempo that is asked in it.

        shown: the side that the clip shows; None where it shows both as one.
        """
        return with_member(definition, self.member or Member(), shown)

    def usual_range(self, exercise: str, view: ViewName | None) -> float | None:
        """The member's range of a full repetition: their file's, else the approved set's, else None.

        view: of this clip, None where it is not known; a range approved from another one says nothing here.
        """
        own = self.member.own(exercise).usual_range if self.member is not None else None
        if own is not None or self.reference is None or not self.reference.filmed_like(view):
            return own
        return self.reference.usual_range
