"""When a tagged load leaves its low end and comes back to it, by its own unfiltered height.

What counts repetitions is filtered in keeping with a body's landmarks, and a load that stops dead is then
told to start early and to end late by a twentieth of a second and more. A tag's height is good to a
millimetre or two: the straight line through two heights above the low end, led back to it, says when.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shared.domain import Floats
from vision.measuring.reps.phase_correction import PhaseCorrection
from vision.measuring.reps.phases import Bounds

#: Heights over the low end through which the line goes, cm.
NEAR_CM, FAR_CM = 0.4, 1.2
#: The low end's height is the middle one of so many seconds beside the moment as it was told.
BESIDE_S = 0.15
#: No moment is moved further, s.
FURTHEST_S = 0.15


def by_height(time_s: Floats, height_cm: Floats) -> PhaseCorrection:
    """Moves start and end of each repetition; time_s, height_cm (F,) of every frame, NaN where lost."""
    known = ~np.isnan(height_cm)
    times, heights = time_s[known], height_cm[known]

    def correct(bounds: Sequence[Bounds], load: Floats, clock: Floats) -> list[Bounds]:
        return [
            (
                _left(times, heights, at=start, by=turn),
                turn,
                lower_start,
                -_left(-times[::-1], heights[::-1], at=-end, by=-lower_start),
            )
            for start, turn, lower_start, end in bounds
        ]

    return correct


def _left(times: Floats, heights: Floats, at: float, by: float) -> float:
    """When the low end was left, about ``at`` and long before ``by``; ``at`` where that cannot be told."""
    beside = heights[(times >= at - BESIDE_S) & (times <= at)]
    rise = (times >= at - BESIDE_S) & (times <= (at + by) / 2)
    if not len(beside) or np.count_nonzero(rise) < 2:
        return at
    level = float(np.median(beside))
    near, far = (_last_crossing(times[rise], heights[rise], level + over) for over in (NEAR_CM, FAR_CM))
    if near is None or far is None:
        return at
    led_back = near - (far - near) * NEAR_CM / (FAR_CM - NEAR_CM)
    return float(np.clip(led_back, at - FURTHEST_S, at + FURTHEST_S))


def _last_crossing(times: Floats, heights: Floats, level: float) -> float | None:
    """The last moment at which the height rises through a level; None where it does not."""
    i = np.flatnonzero((heights[:-1] < level) & (heights[1:] >= level))
    if not len(i):
        return None
    a, b = i[-1], i[-1] + 1
    share = (level - heights[a]) / (heights[b] - heights[a])
    return float(times[a] + share * (times[b] - times[a]))
