"""Command: python -m sample_clips.learning.bounds CLIP.mp4 ...: learns vision/data/bounds-*.npz anew.

From rendered clips of the tuning part: by how much the four moments of each repetition were told too
late, given the drive's course about them (``vision/measuring/phase_correction.py``), as rendered and
warped to other laws of motion. The drive is corrected as learnt without that clip's body, as it will be
for a person who was not learnt from; how good the moments are is measured by leaving one body out once
more. Deterministic.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from sklearn.ensemble import GradientBoostingRegressor

from sample_clips.learning.conformal import half_width
from sample_clips.learning.drive import FEWEST_BODIES, Example, as_arrays, examples_of, left_out
from sample_clips.learning.learnt_file import update
from sample_clips.learning.warp import any_law, bounds_again, warped
from shared.domain import Signal
from shared.exercise import find_exercise
from vision.measuring.correction import CUTOFF_HZ
from vision.measuring.filters import filter_known
from vision.measuring.phase_correction import FOLDER, MOMENTS, moment_features, rests_of
from vision.measuring.phases import Bounds
from vision.measuring.reps import find_reps
from vision.measuring.trees import Trees

TREES = {"n_estimators": 100, "max_depth": 2, "learning_rate": 0.07, "subsample": 0.5, "random_state": 0}
SMALLEST_LEAF = 15
#: Laws of motion tried for each repetition beside the rendered one.
LAWS = 4


@dataclass(frozen=True)
class Moments:
    """One repetition by one law of motion: features (4, F), and how much too late each moment is, s."""

    body: float
    clip: str
    rendered: bool
    rows: np.ndarray
    late: np.ndarray


def moments(example: Example, angle: np.ndarray, rng: np.random.Generator) -> list[Moments]:
    """Every full repetition of a clip, as rendered and by other laws; angle (T,): the corrected drive."""
    exercise = find_exercise(example.exercise)
    kept: list[tuple[Sequence[Bounds], np.ndarray]] = []

    def keep(bounds: Sequence[Bounds], load: np.ndarray, time_s: np.ndarray) -> list[Bounds]:
        kept.append((bounds, load))
        return list(bounds)

    drive: Signal = replace(example.drive, values=angle)
    find_reps(
        drive,
        exercise.drive.lift,
        exercise.drive.min_range,
        example.stays,
        None,
        exercise.drive.min_reps,
        keep,
    )
    if not kept:
        return []
    found, load = kept[0]
    rests = rests_of(found)
    out = []
    for i, one in enumerate(found):
        true = next((t for t in example.true_reps if t[0] <= one[1] <= t[3]), None)
        if true is None:
            continue
        beside = rests[i], rests[i + 1]
        tries = [(load, one, true)]
        for _ in range(LAWS):
            other, new = warped(load, drive.time_s, true, *example.truth, (any_law(rng), any_law(rng)))
            tries.append((other, bounds_again(other, drive.time_s, one, beside), new))
        for k, (course, bounds, truth) in enumerate(tries):
            rows = np.array([moment_features(course, drive.time_s, bounds, m, beside) for m in range(4)])
            late = np.subtract(bounds, truth)
            out.append(Moments(example.body, example.clip, k == 0, rows, late))
    return out


def fit(found: Sequence[Moments]) -> dict[str, np.ndarray]:
    """Trees for each of the four moments, each clip one vote."""
    votes: dict[str, int] = defaultdict(int)
    for one in found:
        votes[one.clip] += 1
    weight = np.array([len(found) / votes[one.clip] for one in found])
    arrays: dict[str, np.ndarray] = {}
    for m, name in enumerate(MOMENTS):
        x, y = np.array([one.rows[m] for one in found]), np.array([one.late[m] for one in found])
        model = GradientBoostingRegressor(min_samples_leaf=SMALLEST_LEAF, **TREES).fit(x, y, weight)
        arrays |= {f"{name}_{k}": v for k, v in as_arrays(model, TREES["learning_rate"]).items()}
    return arrays


def remaining(found: Sequence[Moments]) -> list[tuple[Moments, np.ndarray]]:
    """How much too late (4,) each repetition's moments still are, learnt without its body."""
    out = []
    for body in sorted({one.body for one in found}):
        arrays = fit([one for one in found if one.body != body])
        trees = [Trees.of(arrays, f"{name}_") for name in MOMENTS]
        for one in (o for o in found if o.body == body):
            late = [t.predict(row[None])[0] for t, row in zip(trees, one.rows, strict=True)]
            out.append((one, one.late - np.array(late)))
    return out


def main() -> None:
    """Learn one file for each exercise; print the errors before and after, as rendered and warped."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.bounds", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    groups = examples_of(parser.parse_args().clips)
    for path in FOLDER.glob("bounds-*.npz"):
        path.unlink()
    by_exercise: dict[str, list[Moments]] = defaultdict(list)
    for (exercise, _), examples in sorted(groups.items()):
        rng = np.random.default_rng(0)
        enough = len({e.body for e in examples}) >= FEWEST_BODIES
        angles = left_out(examples) if enough else [e.raw for e in examples]
        for one, angle in zip(examples, angles, strict=True):
            rate = 1.0 / float(one.time_s[1] - one.time_s[0])
            by_exercise[exercise] += moments(
                one, one.raw + filter_known(angle - one.raw, rate, CUTOFF_HZ), rng
            )
    for exercise, found in by_exercise.items():
        np.savez_compressed(FOLDER / f"bounds-{exercise}.npz", **fit(found), allow_pickle=False)
        left = remaining(found)
        for rendered in (True, False):
            some = [(one, after) for one, after in left if one.rendered == rendered]
            before = np.array([one.late for one, _ in some])
            _say(exercise, rendered, before, np.array([after for _, after in some]))
        half_s = half_width(_durations(left))
        update(exercise, "duration_s", round(half_s, 2), f"{len({one.clip for one, _ in left})} tuning clips")
        print(f"{exercise}: nine in ten durations within {half_s:.2f} s")


def _durations(left: Sequence[tuple[Moments, np.ndarray]]) -> list[np.ndarray]:
    """Errors of lift and lower, as rendered, an array a clip."""
    clips: dict[str, list[np.ndarray]] = defaultdict(list)
    for one, late in left:
        if one.rendered:
            clips[one.clip] += [late[1] - late[0], late[3] - late[2]]
    return [np.array(errors) for errors in clips.values()]


def _say(exercise: str, rendered: bool, before: np.ndarray, after: np.ndarray) -> None:
    what = "as rendered" if rendered else "other laws "
    moved = [np.abs(e).mean(axis=0).round(3).tolist() for e in (before, after)]
    spans = [
        [round(float(np.abs(e[:, b] - e[:, a]).mean()), 3) for a, b in ((0, 1), (2, 3))]
        for e in (before, after)
    ]
    print(f"{exercise} {what}: moments {moved[0]} -> {moved[1]} s, lift and lower {spans[0]} -> {spans[1]} s")


if __name__ == "__main__":
    main()
