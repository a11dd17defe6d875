"""Boosted trees of one depth, as arrays: small enough to keep in the repository, quick to run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shared.domain import Floats


@dataclass(frozen=True)
class Trees:
    """The sum of N trees of depth D over F features.

    feature, threshold (N, 2**D - 1): the splits, level by level from the root; at or under a threshold goes
    left. leaf (N, 2**D): what each leaf adds, from the left; base: what is added to every row.
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

    @property
    def depth(self) -> int:
        """Splits from the root to a leaf."""
        return int(np.log2(self.leaf.shape[1]))

    def predict(self, rows: Floats) -> Floats:
        """The sum (T,) for feature rows (T, F); NaN where a feature is not known."""
        rows, tree = rows.astype(np.float32), np.arange(len(self.leaf))
        split = np.zeros((len(rows), len(tree)), dtype=np.int16)
        for _ in range(self.depth):
            asked = np.take_along_axis(rows, self.feature[tree, split], axis=1)
            split = 2 * split + 1 + (asked > self.threshold[tree, split])
        total = self.base + self.leaf[tree, split - self.feature.shape[1]].sum(axis=1)
        return np.where(np.isnan(rows).any(axis=1), np.nan, total)
