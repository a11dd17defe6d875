"""Command: python -m sample_clips.learning.lockout CLIP.mp4 ...: prints the numbers of judging/lockout.py.

From rendered clips: how far each end lay beyond the limit and beyond the set's less straight ones, against
whether the joint was truly locked out. Give it people from whom the drive's angle was not learnt
(``make_lockouts``, ``make_varied``, ``make_around``), since that is what a member is.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from pathlib import Path

import numpy as np
from sklearn.linear_model import LogisticRegression

from sample_clips.measure import measure_clip
from sample_clips.rendered import truth_of
from shared.exercise import find_exercise
from vision.judging.checks.ends import FEWEST_OTHERS, less_straight
from vision.judging.lockout import SURE, WATCH_FROM

LIMIT_DEG = 172.0
#: A knee is told by its angle alone, an elbow by how far it goes beyond the set's less straight ends as well.
FEATURES = {"knee": 1, "elbow": 2}


def ends(clip: Path) -> list[tuple[float, float, bool]]:
    """(beyond the limit, beyond the less straight ends, locked out) of every judged end of one clip."""
    if truth_of(clip)["part"] == "validate":
        raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
    rows = [r for r in measure_clip(clip) if r["kind"] == "verdict" and "lockout" in r["check"]]
    rows = [r for r in rows if r["measured"] is not None and r["fault"] is not None]
    out = []
    for i, row in enumerate(rows):
        others = [r["measured"] for j, r in enumerate(rows) if j != i]
        if len(others) >= FEWEST_OTHERS:
            told = row["measured"]
            out.append((told - LIMIT_DEG, told - less_straight(others), bool(row["fault"])))
    return out


def main() -> None:
    """Fit and print, knees and elbows apart."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.lockout", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips")
    found: dict[str, list[tuple[float, float, bool]]] = defaultdict(list)
    for clip in parser.parse_args().clips:
        joint = find_exercise(truth_of(clip)["exercise"]).drive_joint
        if joint is not None:
            found[joint] += ends(clip)
    for joint, rows in found.items():
        x, y = np.array([f[: FEATURES[joint]] for f in rows]), np.array([f[2] for f in rows])
        model = LogisticRegression(C=2.0).fit(x / 5.0, y)
        weights = " ".join(f"{weight:.3f}" for weight in model.coef_[0] / 5.0)
        print(f"{joint}: {len(y)} ends, {y.sum()} locked: {model.intercept_[0]:.2f} {weights}")
        p = model.predict_proba(x / 5.0)[:, 1]
        for level in (SURE, WATCH_FROM):
            right, wrong = (int(np.count_nonzero(p[y == locked] >= level)) for locked in (1, 0))
            print(f"  at {level}: {right} right, {wrong} wrong")


if __name__ == "__main__":
    main()
