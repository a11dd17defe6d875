"""reps -> tempo: durations of the set's repetitions, their spread and trend, and a plain sentence.

The words slow, moderate and fast follow the ACSM position stand of 2009 (Med Sci Sports Exerc
41:687): moderate is 1 to 2 s each way; that anything shorter is fast and anything longer slow is
common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from shared.domain import Floats, Rep, RepSet
from shared.exercise import Motion
from shared.report import Spread, TempoPart

MODERATE_S = (1.0, 2.0)
#: With fewer repetitions the last three would overlap the first half.
FEWEST_REPS = 6
#: The last three repetitions this many times as long as the first half: effort, and never a fault
#: (common practice, no published source).
EFFORT = 1.35
#: Lift and lower that differ by no more than this share of the longer one are told as one number.
ALIKE = 0.1
#: Up to these spreads (%) repetitions are called even, and fairly even; beyond, uneven. 20 is the limit of
#: the check on tempo, the half of it common practice, no published source.
EVEN, FAIRLY_EVEN = 10.0, 20.0
SLOWED = "The last three were slower: that is effort, not a fault."
Word = Literal["slow", "moderate", "fast"]


def spread(values: list[float]) -> Spread | None:
    """Mean, sd (n - 1), coefficient of variation (%) and straight-line trend a repetition."""
    if not values:
        return None
    v = np.asarray(values)
    mean = float(v.mean())
    several = len(v) > 1
    sd = float(v.std(ddof=1)) if several else 0.0
    trend = float(np.polyfit(np.arange(len(v)), v, 1)[0]) if several else None
    return Spread(mean=mean, sd=sd, cv_percent=100.0 * sd / mean if mean > 0 else None, trend_per_rep=trend)


def detrended_cv(values: Floats) -> float:
    """Coefficient of variation in % of what is left after the straight-line trend; NaN under 3."""
    if len(values) < 3:
        return float("nan")
    line = np.polyval(np.polyfit(np.arange(len(values)), values, 1), np.arange(len(values)))
    return 100.0 * float(np.sqrt(np.sum((values - line) ** 2) / (len(values) - 2))) / float(np.mean(values))


def late_over_early(values: Sequence[float]) -> float | None:
    """Median of the last three over the median of the first half; None under six values."""
    if len(values) < FEWEST_REPS:
        return None
    return float(np.median(values[-3:]) / np.median(values[: len(values) // 2]))


def speed_word(seconds: float) -> Word:
    """slow, moderate or fast for one phase of that many seconds."""
    if seconds < MODERATE_S[0]:
        return "fast"
    return "moderate" if seconds <= MODERATE_S[1] else "slow"


def even_word(cv_percent: float) -> str:
    """How alike the repetitions of a set are in length, by their coefficient of variation in %."""
    return "even" if cv_percent <= EVEN else "fairly even" if cv_percent <= FAIRLY_EVEN else "uneven"


def measure_tempo(reps: RepSet, motion: Motion) -> TempoPart:
    """Tempo over the counted repetitions of a set; motion: the machine's words for lift and lower."""
    full = reps.full
    if not full:
        return TempoPart(sentence="No full repetition to time.")
    rests = [r.rest_s for r in full if r.rest_s is not None]
    phases = [min(r.lift_s, r.lower_s) for r in full]
    return TempoPart(
        lift_s=spread([r.lift_s for r in full]),
        hold_s=spread([r.hold_s for r in full]),
        lower_s=spread([r.lower_s for r in full]),
        rest_s=spread(rests),
        duration_s=spread([r.duration_s for r in full]),
        speed_word=speed_word(float(np.median(phases))),
        sentence=_sentence(full, motion),
    )


def _sentence(full: tuple[Rep, ...], motion: Motion) -> str:
    """``About 2.1 s each way, even.``"""
    lift = float(np.median([r.lift_s for r in full]))
    lower = float(np.median([r.lower_s for r in full]))
    times = f"{lift:.1f} s {motion.lift} and {lower:.1f} s {motion.lower}"
    if abs(lift - lower) <= ALIKE * max(lift, lower):
        times = f"{(lift + lower) / 2:.1f} s each way"
    fast = [way for way, s in ((motion.lift, lift), (motion.lower, lower)) if speed_word(s) == "fast"]
    words = ["fast" if len(fast) == 2 else f"fast {fast[0]}"] if fast else []
    cv = detrended_cv(np.array([r.duration_s for r in full]))
    words += [] if np.isnan(cv) else [even_word(cv)]
    late = late_over_early([r.lift_s + r.lower_s for r in full])
    slowed = late is not None and late > EFFORT
    return ", ".join([f"About {times}", *words]) + "." + (f" {SLOWED}" if slowed else "")
