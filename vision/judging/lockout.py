"""How likely a joint was locked out at one end of a repetition.

An angle alone cannot carry it: a good repetition's end lies within the landmark model's error of the
limit. At an elbow, how much straighter this end was than the same end of the set's less straight repetitions
is measured far better, since the clip's bias cancels; but the landmark model shows about half of it, so a
step of 8 degrees up to a seeming 168 is most likely a lockout. Both are weighed by a logistic regression over
rendered sets (``python -m sample_clips.learning.lockout`` prints the numbers anew); at a knee the others
add nothing. The angle is enough where it is sure by itself, as in a set locked out throughout; with too
few others there is no more.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from vision.judging.evidence import LimbEnd
from vision.measuring.learnt.uncertainty import Z90

#: Intercept, per degree beyond the limit, per degree beyond the set's less straight ends (not for a knee).
WEIGHTS = {"knee": (0.76, 0.70, 0.0), "elbow": (-1.47, 0.229, 0.469)}
#: Half-widths of the 90 % interval of the angle, in degrees, up to which they were learnt; wider, and the
#: angle says less.
LEARNT_HALF = {"knee": 6.0, "elbow": 21.0}
#: A lockout is put on watch from this probability on: a missed one costs a joint, a look costs a moment.
WATCH_FROM = 0.3
#: From this probability on the angle is enough by itself.
SURE = 0.9
LOCKOUT_JOINTS = tuple(WEIGHTS)
#: How a reason begins that the picture bears out and the angle alone does not.
LOOK = "check the picture"
STRAIGHTER = (
    LOOK
    + ": elbow about {degrees} degrees straighter than in other reps; near straight, the camera reads it "
    "as more bent than it is"
)


def lockout_probability(end: LimbEnd, beyond_deg: float, uncertainty: float) -> float:
    """Probability of a lockout of an end that lies so many degrees beyond the limit; beyond it never clear.

    uncertainty: half-width of the angle's 90 % interval, in degrees.
    """
    alone = NormalDist(0.0, max(uncertainty, 1e-6) / Z90).cdf(beyond_deg)
    if end.change is None:
        return alone
    intercept, per_beyond, per_change = WEIGHTS[end.joint]
    logit = intercept + per_beyond * beyond_deg + per_change * end.change
    logit *= min(1.0, LEARNT_HALF[end.joint] / max(uncertainty, 1e-6))
    both = float(1.0 / (1.0 + np.exp(-logit)))
    least = alone if alone >= SURE else WATCH_FROM if beyond_deg > 0 else 0.0
    return max(both, least)


def why_below_the_limit(end: LimbEnd) -> str:
    """What speaks of a lockout at an angle within the limit; empty where the set's others do not."""
    weighs = end.change is not None and WEIGHTS[end.joint][2] > 0
    degrees = round(end.change or 0.0) if weighs else 0
    return STRAIGHTER.format(degrees=degrees) if degrees > 1 else ""
