"""Whether somebody stands between the phone and a limb that the exercise needs.

The landmark model guesses what is behind a body, and is sure of it: an arm behind a trainer seems to follow
the other one, or the trainer's.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shared.domain import Floats
from shared.keypoints import INDEX
from vision.common.geometry import distance
from vision.common.poses import off_bones, torso
from vision.measuring.track.filters import within
from vision.seeing.subject import Subject

#: A part that an exercise needs, and the point it is seen by.
Limb = tuple[str, str]
#: Whose trunk is so much longer in the picture is nearer to the camera.
NEARER = 1.2
#: A point this near to somebody's bones, or to the middle of their trunk, lies behind their body, in trunk
#: lengths of theirs.
BEHIND, BROAD = 0.25, 0.45
#: Who was seen so near in time is there, s: everybody is looked for every 0.8 s or oftener.
SOON_S = 0.5
#: A side is covered where so many of the needed points are, the drive's joint among them, in more than this
#: share of the set. Of 24 rendered sets with others close by two had them covered throughout; in the
#: others it was one point, for half of the set.
POINTS, MOST = 2, 0.5


def is_covered(subject: Subject, needed: Sequence[Limb], joint: str, start_s: float, end_s: float) -> bool:
    """Whether a side that is needed is covered in most of a stretch of the clip.

    needed: (part, keypoint); joint: the part that moves the load; start_s, end_s: the stretch.
    """
    inside = range(*within(subject.time_s, start_s, end_s).indices(len(subject.time_s)))
    nearer = [other for other in subject.near if _nearer(other[1], subject)]
    behind = [_behind(subject, row, nearer, [INDEX[name] for _, name in needed]) for row in inside]
    if not behind or not nearer:
        return False
    mostly = np.mean(behind, axis=0) > MOST
    found = [name for (_, name), covered in zip(needed, mostly, strict=True) if covered]
    sides = [name.split("_")[0] for name in found]
    return any(
        name.endswith(joint) and sides.count(side) >= POINTS for name, side in zip(found, sides, strict=True)
    )


def _nearer(poses: Floats, subject: Subject) -> bool:
    return float(np.median(torso(poses)[1])) > NEARER * float(np.median(subject.trunk_px))


def _behind(
    subject: Subject, row: int, others: Sequence[tuple[Floats, Floats]], points: Sequence[int]
) -> np.ndarray:
    """Which of the subject's points lie behind the bodies of others at one sighting, (P,)."""
    out = np.zeros(len(points), dtype=bool)
    at = subject.poses_px[row][list(points)]
    for time_s, poses in others:
        nearest = int(np.argmin(np.abs(time_s - subject.time_s[row])))
        if abs(time_s[nearest] - subject.time_s[row]) <= SOON_S:
            middle, trunk = torso(poses[nearest])
            out |= (off_bones(at, poses[nearest]) < BEHIND) | (distance(at, middle) < BROAD * trunk)
    return out
