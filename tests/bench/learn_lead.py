"""Command: python -m tests.bench.learn_lead CLIP.mp4 ...: learns vision/data/lead.json anew.

From rendered clips of the tuning part: for each exercise and boundary, the mean over clips of the
median error over repetitions, as a share of the measured phase.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from pathlib import Path

import numpy as np

from shared.exercise import find_exercise
from tests.bench.__main__ import CACHE, truth_of
from tests.bench.measure import TIMES, match
from tests.bench.replay import seen_cached
from vision.analysis import Options
from vision.correction import FOLDER, load_lead
from vision.pipeline import judge_seen
from vision.pose_mediapipe import MediaPipePose


def clip_lead(clip: Path) -> tuple[str, list[float]] | None:
    """Exercise and median lead of the four boundaries of one clip; None when it was not judged."""
    truth = truth_of(clip)
    if truth["part"] == "validate":
        raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
    if not truth["fit"]:
        return None
    seen = seen_cached(clip, MediaPipePose(), CACHE)
    analysis = judge_seen(seen, find_exercise(truth["exercise"]), Options(cleared=True))
    if analysis.reps is None or not analysis.report.quality.usable:
        return None
    shares = [
        [
            (getattr(rep, name) - row[name]) / max(rep.lift_s if name in TIMES[:2] else rep.lower_s, 0.2)
            for name in TIMES
        ]
        for rep, row in match(analysis.reps.reps, truth["reps"])
    ]
    return (truth["exercise"], np.median(shares, axis=0).tolist()) if shares else None


def main() -> None:
    """Learn the lead of every exercise."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.learn_lead", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    chosen = parser.parse_args()
    path = FOLDER / "lead.json"
    path.unlink(missing_ok=True)
    load_lead.cache_clear()
    found = defaultdict(list)
    for clip in chosen.clips:
        if (one := clip_lead(clip)) is not None:
            found[one[0]].append(one[1])
    leads = {k: [round(float(x), 4) for x in np.mean(v, axis=0)] for k, v in sorted(found.items())}
    path.write_text(json.dumps(leads, indent=1) + "\n")


if __name__ == "__main__":
    main()
