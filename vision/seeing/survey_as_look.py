"""What the survey alone shows of the subject, as a close look: the first words are told by it.

A survey finds everyone a few times a second, and leaves out frames in which nobody stirs; in between the
subject's points are taken to move straight on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.common.between import at_moments
from vision.seeing.follow import pick
from vision.seeing.look import Seen

#: Over a longer gap nobody is taken to have moved straight on, s: two steps of a survey that left one out.
GAP_S = 0.65
#: A row so often, s: often enough that what was surveyed at uneven moments keeps its place.
CLOCK_S = 0.1
#: With fewer sightings nothing is told.
FEWEST = 10


def as_close_look(seen: Seen) -> Seen | None:
    """What was seen with the subject's surveyed poses as its close look; None where there are hardly any."""
    if seen.subject is None:
        return None
    own = pick(seen.survey, seen.subject)
    found = ~np.isnan(own.image_px[:, 0, :, 0]).all(axis=1)
    if found.sum() < FEWEST:
        return None
    time_s = own.time_s[found]
    clock = np.arange(time_s[0], time_s[-1], CLOCK_S)
    frame = np.interp(clock, own.time_s, own.frame).round().astype(np.int64)
    return replace(seen, dense=at_moments(own, frame, clock, GAP_S))
