"""How likely a joint was locked out at one end of a repetition.

An angle alone cannot carry it: a good repetition's end lies within the landmark model's error of the
limit. How much straighter this end was than the same end of the set's other repetitions is measured
far better, since the clip's bias cancels. Both are weighed by a logistic regression over rendered
clips of the tuning part (``python -m sample_clips.learning.lockout`` prints the numbers anew). A set locked
out throughout shows no change: there the angle decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import NormalDist, median

import numpy as np

from shared.domain import Measurement
from vision.measuring.uncertainty import Z90

#: Intercept, per degree beyond the limit, per degree beyond the set's other repetitions.
WEIGHTS = {"knee": (-5.03, -0.014, 0.433), "elbow": (-3.73, 0.193, 0.538)}
#: With fewer other repetitions their median says too little.
FEWEST_OTHERS = 3


def weigh(found: Sequence[Measurement], limit_deg: float, joint: str) -> list[Measurement]:
    """The measurements of a knee's or elbow's largest angle at one end, each with its probability."""
    return [replace(one, probability=_probability(one, found, limit_deg, joint)) for one in found]


def _probability(one: Measurement, found: Sequence[Measurement], limit_deg: float, joint: str) -> float:
    beyond = one.value - limit_deg
    alone = NormalDist(0.0, max(one.uncertainty, 1e-6) / Z90).cdf(beyond)
    others = [m.value for m in found if m is not one]
    if len(others) < FEWEST_OTHERS:
        return alone
    change = one.value - median(others)
    intercept, per_beyond, per_change = WEIGHTS[joint]
    logit = intercept + per_beyond * beyond + per_change * change
    return max(alone, float(1.0 / (1.0 + np.exp(-logit))))
