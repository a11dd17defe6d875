"""Command: python -m tests.bench.learn_lockout CLIP.mp4 ...: prints the numbers of vision/lockout.py.

From rendered clips of the tuning part: how far each end lay beyond the limit and beyond the set's
other repetitions, against whether the joint was truly locked out.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from pathlib import Path
from statistics import median

import numpy as np
from sklearn.linear_model import LogisticRegression

from tests.bench.__main__ import measure_clip, truth_of

LIMIT_DEG = 172.0


def ends(clip: Path) -> list[tuple[float, float, bool]]:
    """(beyond the limit, beyond the others, locked out) of every judged end of one clip."""
    if truth_of(clip)["part"] == "validate":
        raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
    rows = [r for r in measure_clip(clip) if r["kind"] == "verdict" and "lockout" in r["check"]]
    rows = [r for r in rows if r["measured"] is not None]
    out = []
    for i, row in enumerate(rows):
        others = [r["measured"] for j, r in enumerate(rows) if j != i]
        if others:
            out.append((row["measured"] - LIMIT_DEG, row["measured"] - median(others), bool(row["fault"])))
    return out


def main() -> None:
    """Fit and print, knees and elbows apart."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.learn_lockout", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    found = defaultdict(list)
    for clip in parser.parse_args().clips:
        found["knee" if clip.name.startswith("leg-") else "elbow"] += ends(clip)
    for joint, rows in found.items():
        x, y = np.array([f[:2] for f in rows]), np.array([f[2] for f in rows])
        fit = LogisticRegression(C=2.0).fit(x / 5.0, y)
        limit, others = fit.coef_[0] / 5.0
        print(f"{joint}: {len(y)} ends, {y.sum()} locked: {fit.intercept_[0]:.2f} {limit:.3f} {others:.3f}")  # noqa: T201


if __name__ == "__main__":
    main()
