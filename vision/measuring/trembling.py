"""How much less sure a set is of a picture that trembles: dark, full of noise, or from a phone in a hand.

Limbs at a load move softly; what the flow tells of one beyond that is the picture's. On 42 rendered sets,
18 of them made worse, the share of the tremble in a limb's speed tells how much further off moments, ranges
and angles are than was learnt from good pictures.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import RepSet, Signal
from vision.measuring.by_flow import CLOCK_HZ, LimbPath
from vision.measuring.filters import butterworth, within

#: A limb at a load does nothing quicker than this, Hz.
SOFT_HZ = 3.0
#: In a good picture what is quicker mostly makes up to so much of a limb's speed. Beyond it times are less
#: sure, in proportion, up to so many times.
STEADY_SHARE, MOST_TIMES = 0.025, 3.0
#: A limb's speed is what it moves faster than for a twentieth of the set.
PEAK_PERCENTILE = 95.0
#: It is spoken of where times are so many times less sure.
TELL = 2.0
TREMBLES = (
    "Tempo and angles are told less surely here: the picture is dark, grainy or unsteady. Stand the phone on "
    "something firm, in good light."
)


def unsteadiness(path: LimbPath | None, reps: RepSet) -> float:
    """By how much the times of a set are less sure for the tremble of its picture, 1 to ``MOST_TIMES``.

    1 as well where no limb was followed.
    """
    if path is None:
        return 1.0
    inside = within(path.time_s, reps.start_s, reps.end_s)
    soft = butterworth(path.place, CLOCK_HZ, SOFT_HZ)
    speed, tremble = (
        np.linalg.norm(np.gradient(place, 1 / CLOCK_HZ, axis=0), axis=1)[inside]
        for place in (soft, path.place - soft)
    )
    peak = float(np.percentile(speed, PEAK_PERCENTILE))
    share = float(np.median(tremble)) / max(peak, 1e-9)
    return float(np.clip(share / STEADY_SHARE, 1.0, MOST_TIMES))


def told_unsteady(reps: RepSet) -> list[str]:
    """What to say of such a picture, if anything."""
    return [TREMBLES] if reps.unsteady >= TELL else []


def less_steady(drive: Signal, reps: RepSet) -> Signal:
    """The drive with a wider half-width: angles are less sure by the root of what times are."""
    return replace(drive, bias=drive.bias * reps.unsteady**0.5)
