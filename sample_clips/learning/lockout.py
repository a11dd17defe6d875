"""Command: python -m sample_clips.learning.lockout CLIP.mp4 ...: prints the numbers of judging/lockout.py.

From rendered clips of the tuning part: how far each end lay beyond the limit and beyond the set's
other repetitions, against whether the joint was truly locked out. Angles are corrected as learnt without
that clip's body, as they will be for a person who was not learnt from.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from pathlib import Path
from statistics import median
from unittest.mock import patch

import numpy as np
from sklearn.linear_model import LogisticRegression

from sample_clips.learning.drive import FEWEST_BODIES, Example, examples_of, fit
from sample_clips.measure import measure_clip
from sample_clips.rendered import truth_of
from shared.exercise import find_exercise
from vision.measuring.correction import Correction, load_correction
from vision.measuring.trees import Trees

LIMIT_DEG = 172.0
Groups = dict[tuple[str, str], list[Example]]


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


def corrections_without(groups: Groups, body: float) -> dict[tuple[str, str], Correction]:
    """What ``vision.measuring.correction`` would hold by exercise and view, had this body not been filmed."""
    made = {}
    for key, examples in groups.items():
        others = [e for e in examples if e.body != body]
        if len({e.body for e in others}) >= FEWEST_BODIES and (known := load_correction(*key)) is not None:
            arrays = fit(others)
            made[key] = Correction(Trees.of(arrays), arrays["low"], arrays["high"], known.half_deg)
    return made


def main() -> None:
    """Fit and print, knees and elbows apart."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.lockout", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    clips = parser.parse_args().clips
    groups = examples_of(clips)
    found: dict[str, list[tuple[float, float, bool]]] = defaultdict(list)
    for body in sorted({e.body for examples in groups.values() for e in examples}):
        made = corrections_without(groups, body)
        with patch("vision.measuring.correction.load_correction", lambda *key, made=made: made.get(key)):
            for clip in (c for c in clips if truth_of(c)["body"]["stature_cm"] == body):
                joint = find_exercise(truth_of(clip)["exercise"]).drive_joint
                if joint is not None:
                    found[joint] += ends(clip)
    for joint, rows in found.items():
        x, y = np.array([f[:2] for f in rows]), np.array([f[2] for f in rows])
        model = LogisticRegression(C=2.0).fit(x / 5.0, y)
        limit, others = model.coef_[0] / 5.0
        print(f"{joint}: {len(y)} ends, {y.sum()} locked: {model.intercept_[0]:.2f} {limit:.3f} {others:.3f}")
        p = model.predict_proba(x / 5.0)[:, 1]
        counts = [int(np.count_nonzero(p[y == locked] >= level)) for level in (0.9, 0.5) for locked in (1, 0)]
        print(f"  at 0.9: {counts[0]} right, {counts[1]} wrong; at 0.5: {counts[2]} right, {counts[3]} wrong")


if __name__ == "__main__":
    main()
