"""A set in which the joint seems to go less far, or further, than in those that were learnt from.

An elbow that is turned to the camera hardly seems to bend, and one that folds past the line of sight seems to
bend too far: on rendered sets the angles of such a set are off by about as much as its range is unusual.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import RepSet, Signal
from shared.exercise import CameraView, Exercise
from vision.measuring.learnt.data import load_learnt

#: An unusual range is spoken of from so many degrees on.
TELL_DEG = 10.0
UNUSUAL = (
    "The {joint}s seem to move {how} than usual on this machine. If they really moved as usual, they were "
    "turned towards the phone or away from it, and their angles may be off by {deg} degrees. To be sure, "
    "film the next set with the phone straight on."
)


def less_sure(
    drive: Signal, reps: RepSet, exercise: Exercise, view: CameraView, own_range: float | None = None
) -> tuple[Signal, list[str]]:
    """The drive with a half-width that covers an unusual range, and what to say of it.

    own_range: the member's, degrees: what is usual for them is not unusual.
    """
    usual = load_learnt(exercise.name).drive_span.get(view)
    if usual is None or drive.unjudgeable or not reps.full:
        return drive, []
    low, high = min(usual[0], own_range or usual[0]), max(usual[1], own_range or usual[1])
    span = float(np.median([abs(rep.at_lift_end - rep.at_load_down) for rep in reps.full]))
    beyond = max(low - span, span - high, 0.0)
    surely = replace(drive, clip_half=float(np.hypot(drive.clip_half, beyond)))
    if beyond < TELL_DEG or exercise.drive_joint is None:
        return surely, []
    how = "less" if span < low else "more"
    return surely, [UNUSUAL.format(joint=exercise.drive_joint, how=how, deg=round(surely.clip_half))]
