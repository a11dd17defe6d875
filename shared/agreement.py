"""How well two methods or two raters agree: limits of agreement, and Cohen's kappa.

Bland and Altman 1986 (Lancet i:307): the mean difference is the bias, and about 95 % of the
differences lie within 1.96 standard deviations of it. Cohen 1960 (Educ Psychol Meas 20:37): the
share of agreement beyond what the raters' own frequencies would give by chance.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from shared.domain import Floats


@dataclass(frozen=True)
class Agreement:
    """First method less second, in their unit: n pairs, bias, sd (n - 1) and the limits of agreement."""

    n: int
    bias: float
    sd: float
    lower: float
    upper: float


def limits_of_agreement(first: Floats, second: Floats, spreads: float = 1.96) -> Agreement:
    """Bias and limits of agreement of paired values; pairs with a NaN are left out.

    spreads: standard deviations from the bias to a limit; the 1986 paper itself took 2. ValueError
    when fewer than two pairs are known or the lengths differ.
    """
    if np.shape(first) != np.shape(second):
        raise ValueError("the two methods must have measured the same things")
    differences = np.asarray(first, dtype=float) - np.asarray(second, dtype=float)
    differences = differences[~np.isnan(differences)]
    if len(differences) < 2:
        raise ValueError("needs at least two pairs")
    bias, sd = float(differences.mean()), float(differences.std(ddof=1))
    return Agreement(len(differences), bias, sd=sd, lower=bias - spreads * sd, upper=bias + spreads * sd)


def cohen_kappa(first: Sequence[Hashable], second: Sequence[Hashable]) -> float:
    """Chance-corrected agreement of two raters, 1 = full, 0 = as by chance.

    NaN where both gave one and the same label throughout: chance alone explains that. ValueError
    when there is nothing to compare or the lengths differ.
    """
    if len(first) != len(second) or not len(first):
        raise ValueError("both raters must have rated the same things, at least one")
    n = len(first)
    observed = sum(a == b for a, b in zip(first, second, strict=True)) / n
    ours, theirs = Counter(first), Counter(second)
    by_chance = sum(ours[label] * theirs[label] for label in ours) / n**2
    return float("nan") if by_chance == 1.0 else (observed - by_chance) / (1.0 - by_chance)
