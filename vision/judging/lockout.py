"""How likely a joint was locked out at one end of a repetition.

An angle alone cannot carry it: a good repetition's end lies within the landmark model's error of the
limit. How much straighter this end was than the same end of the set's other repetitions is measured
far better, since the clip's bias cancels. Both are weighed by a logistic regression over rendered
clips of the tuning part (``python -m sample_clips.learning.lockout`` prints the numbers anew). A set
locked out throughout shows no change: there the angle decides.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from vision.judging.evidence import LimbEnd
from vision.measuring.uncertainty import Z90

#: Intercept, per degree beyond the limit, per degree beyond the set's other repetitions.
WEIGHTS = {"knee": (-5.03, -0.014, 0.433), "elbow": (-3.73, 0.193, 0.538)}
JOINTS = tuple(WEIGHTS)


def lockout_probability(end: LimbEnd, beyond_deg: float, uncertainty: float) -> float:
    """Probability of a lockout of an end that lies so many degrees beyond the limit.

    uncertainty: half-width of the angle's 90 % interval, in degrees.
    """
    alone = NormalDist(0.0, max(uncertainty, 1e-6) / Z90).cdf(beyond_deg)
    if end.change is None:
        return alone
    intercept, per_beyond, per_change = WEIGHTS[end.joint]
    logit = intercept + per_beyond * beyond_deg + per_change * end.change
    return max(alone, float(1.0 / (1.0 + np.exp(-logit))))
