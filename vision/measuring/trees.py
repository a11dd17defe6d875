"""Boosted trees of depth two, as arrays: small enough to keep in the repository, quick to run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shared.domain import Floats


@dataclass(frozen=True)
class Trees:
    """The sum of N trees over F features.

    feature, threshold (N, 3): root, left and right split; at or under a threshold goes left.
    leaf (N, 4): what each leaf adds; base: what is added to every row.
    """

    feature: np.ndarray
    threshold: Floats
    leaf: Floats
    base: float

    @classmethod
    def of(cls, arrays: Mapping[str, np.ndarray], prefix: str = "") -> Trees:
        """Trees from the arrays of a file, whose names begin with ``prefix``."""
        part = {name: np.asarray(arrays[prefix + name]) for name in ("feature", "threshold", "leaf", "base")}
        return cls(
            part["feature"].astype(int), part["threshold"].astype(float),
            part["leaf"].astype(float), float(part["base"]),
        )  # fmt: skip

    def predict(self, rows: Floats) -> Floats:
        """The sum (T,) for feature rows (T, F); NaN where a feature is not known."""
        rows = rows.astype(np.float32)
        side = [rows[:, self.feature[:, i]] > self.threshold[:, i] for i in range(3)]
        index = np.where(side[0], 2 + side[2], 0 + side[1]).astype(int)
        total = self.base + self.leaf[np.arange(len(self.leaf)), index].sum(axis=1)
        return np.where(np.isnan(rows).any(axis=1), np.nan, total)
