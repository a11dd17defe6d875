"""Whether somebody stands between the phone and a limb that the exercise needs.

The landmark model guesses what is behind a body, and is sure of it: an arm behind a trainer seems to follow
the other one, or the trainer's.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shared.keypoints import INDEX
from vision.common.poses import off_bones, torso
from vision.measuring.filters import within
from vision.seeing.subject import Subject

#: Whose trunk is so much longer in the picture is nearer to the camera.
NEARER = 1.2
#: A point this near to somebody's bones, in their trunk lengths, lies behind their body.
BEHIND = 0.25
#: Others are looked for every four seconds at least: one who was seen so near in time is still there, s.
SOON_S = 2.0
#: A limb is covered where so many of its points are, in more than this share of the set. On 35 rendered sets
#: with others close by, two such limbs were covered throughout; of the other sets one hand, for half of it.
POINTS, MOST = 2, 0.5


def covered_parts(
    subject: Subject, needed: Sequence[tuple[str, str]], start_s: float, end_s: float
) -> list[str]:
    """The parts of limbs that are covered in most of a stretch of the clip; needed: (part, keypoint)."""
    inside = range(*within(subject.time_s, start_s, end_s).indices(len(subject.time_s)))
    behind = [_behind(subject, row, [INDEX[name] for _, name in needed]) for row in inside]
    if not behind:
        return []
    mostly = np.mean(behind, axis=0) > MOST
    found = [limb for limb, is_covered in zip(needed, mostly, strict=True) if is_covered]
    sides = [name.split("_")[0] for _, name in found]
    return [part for (part, _), side in zip(found, sides, strict=True) if sides.count(side) >= POINTS]


def _behind(subject: Subject, row: int, points: Sequence[int]) -> np.ndarray:
    """Which of the subject's points lie behind somebody's body at one sighting, (P,)."""
    out = np.zeros(len(points), dtype=bool)
    for time_s, poses in subject.near:
        nearest = int(np.argmin(np.abs(time_s - subject.time_s[row])))
        soon = abs(time_s[nearest] - subject.time_s[row]) <= SOON_S
        if soon and torso(poses[nearest])[1] > NEARER * subject.trunk_px[row]:
            out |= off_bones(subject.poses_px[row][list(points)], poses[nearest]) < BEHIND
    return out
