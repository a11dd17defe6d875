"""How well two methods agree (Bland and Altman 1986, Lancet i:307, from memory).

The mean difference is the bias, and about 95 % of the differences lie within 1.96 standard deviations of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats


@dataclass(frozen=True)
class LimitsOfAgreement:
    """First method less second, in their unit: n pairs, bias, sd (n - 1) and the limits of agreement."""

    n: int
    bias: float
    sd: float
    lower: float
    upper: float


def limits_of_agreement(first: Floats, second: Floats, spreads: float = 1.96) -> LimitsOfAgreement:
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
    return LimitsOfAgreement(
        len(differences), bias, sd=sd, lower=bias - spreads * sd, upper=bias + spreads * sd
    )
