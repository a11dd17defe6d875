"""How much less sure a set is of a picture that trembles: dark, full of noise, or from a phone in a hand.

Limbs at a load move softly, and rest between two phases; what the flow tells of one beyond that is the
picture's. On 42 rendered sets, 18 of them made worse, how much of a limb's speed that is tells how much
further off moments, ranges and angles are than was learnt from good pictures.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from shared.domain import Floats, RepSet, Signal
from vision.common.notices import TREMBLES
from vision.measuring.reps.by_flow import CLOCK_HZ, LimbPath
from vision.measuring.track.filters import butterworth, within

#: A limb at a load does hardly anything quicker than this, Hz.
SOFT_HZ = 2.0
#: What is quicker, and what a limb that rests seems to move, makes up to so much of its speed in a good
#: picture. Beyond it times are less sure, in proportion, up to so many times.
STEADY_SHARE, MOST_TIMES = 0.05, 3.0
#: A limb rests in a stay that lasts at least so long, s, but for this share at each end; in a longer one than
#: the second it may do something else.
STAY_S, LONGEST_STAY_S, EDGE = 0.15, 2.0, 0.2
#: A limb's speed is what it moves faster than for a twentieth of the set.
PEAK_PERCENTILE = 95.0
#: It is spoken of where times are so many times less sure.
TELL = 2.0


def unsteadiness(path: LimbPath | None, reps: RepSet) -> float:
    """By how much the times of a set are less sure for the tremble of its picture, 1 to ``MOST_TIMES``.

    1 as well where no limb was followed, or not for the whole set.
    """
    if path is None or not _covers(path, reps):
        return 1.0
    soft = butterworth(path.place, CLOCK_HZ, SOFT_HZ)
    speed, tremble = (
        np.linalg.norm(np.gradient(place, 1 / CLOCK_HZ, axis=0), axis=1)
        for place in (soft, path.place - soft)
    )
    inside = within(path.time_s, reps.start_s, reps.end_s)
    peak = max(float(np.percentile(speed[inside], PEAK_PERCENTILE)), 1e-9)
    seeming = max(float(np.median(tremble[inside])), _resting(speed, path.time_s, reps))
    return float(np.clip(seeming / peak / STEADY_SHARE, 1.0, MOST_TIMES))


def _covers(path: LimbPath, reps: RepSet) -> bool:
    """Whether a limb was followed from the set's first lift to its last lower."""
    return bool(path.time_s[0] <= reps.reps[0].turn_s and path.time_s[-1] >= reps.reps[-1].lower_start_s)


def _resting(speed: Floats, time_s: Floats, reps: RepSet) -> float:
    """The speed (T,) that a limb seems to have where it rests; 0 where it does not."""
    stays = [(rep.turn_s, rep.lower_start_s) for rep in reps.reps]
    stays += [(one.end_s, other.start_s) for one, other in pairwise(reps.reps)]
    rests = [
        speed[within(time_s, start + EDGE * (end - start), end - EDGE * (end - start))]
        for start, end in stays
        if STAY_S <= end - start <= LONGEST_STAY_S
    ]
    return float(np.median(np.concatenate(rests))) if rests else 0.0


def told_unsteady(reps: RepSet) -> list[str]:
    """What to say of such a picture, if anything."""
    return [TREMBLES] if reps.unsteady >= TELL else []


def less_steady(drive: Signal, reps: RepSet) -> Signal:
    """The drive with a wider half-width: angles are less sure by the root of what times are."""
    return replace(drive, clip_half=drive.clip_half * reps.unsteady**0.5)
