"""Command: python -m sample_clips.learning.bounds CLIP.mp4 ...: learns vision/data/bounds-*.npz anew.

By how much the four moments of each repetition were told too late, given the load's course about them
(``vision/measuring/reps/phase_correction.py``). Learnt for each machine from two halves: exact sets by eleven
laws of motion through a model of looking (``sets.py``), which lean on no machine, and that machine's clips
of the tuning part, as rendered and moved by the same laws (``warp.py``). Printed are the errors under each
law when it is left out of learning, and those on each machine's clips as rendered when their body is left
out. Deterministic.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from sklearn.ensemble import GradientBoostingRegressor

from sample_clips.learning.conformal import half_width
from sample_clips.learning.drive import FEWEST_BODIES, Example, as_arrays, examples_of, left_out
from sample_clips.learning.laws import LAWS
from sample_clips.learning.learnt_file import update
from sample_clips.learning.sets import exact_set, measured
from sample_clips.learning.warp import MeasuredSet, by_law
from shared.domain import Signal
from shared.exercise import Exercise, exercise_names, find_exercise
from vision.measuring.learnt.correction import CUTOFF_HZ
from vision.measuring.learnt.trees import Trees
from vision.measuring.reps.ends import TRUNK_DEG, told_by_limb
from vision.measuring.reps.find_reps import Lift, find_reps
from vision.measuring.reps.phase_correction import FOLDER, MOMENTS, moment_features, rests_of
from vision.measuring.reps.phases import Bounds
from vision.measuring.track.filters import filter_known

TREES = {"n_estimators": 100, "max_depth": 2, "learning_rate": 0.07, "subsample": 0.5, "random_state": 0}
SMALLEST_LEAF = 15
#: Exact sets by each law.
SETS = 40
#: What a machine's own clips weigh beside the exact sets.
OWN_WEIGHT = 1.0
#: A moment found further from the true one than this belongs to something else, s.
FAR_S = 1.5


@dataclass(frozen=True)
class Moments:
    """One repetition: features (4, F), how much too late each moment is, s; group: left out at once."""

    group: str | float
    source: str
    rendered: bool
    rows: np.ndarray
    late: np.ndarray


def moments(
    one: MeasuredSet, lift: Lift, group: str | float, source: str, rendered: bool = False
) -> list[Moments]:
    """Every repetition that is found in a measured set."""
    kept: list[tuple[Sequence[Bounds], np.ndarray]] = []

    def keep(bounds: Sequence[Bounds], load: np.ndarray, time_s: np.ndarray) -> list[Bounds]:
        kept.append((bounds, load))
        return list(bounds)

    drive = Signal("drive", "deg", one.time_s, one.drive, np.ones(len(one.drive)), 0.0)
    find_reps(drive, lift, correct=keep)
    if not kept:
        return []
    found, load = told_by_limb(one.course, kept[0][1], one.time_s, kept[0][0])
    rests, out = rests_of(found), []
    for i, bounds in enumerate(found):
        true = next((t for t in one.reps if t[0] <= sum(bounds) / 4 <= t[3]), None)
        if true is None or np.abs(np.subtract(bounds, true)).max() > FAR_S:
            continue
        beside = rests[i], rests[i + 1]
        rows = np.array([moment_features(load, one.time_s, bounds, m, beside) for m in range(4)])
        out.append(Moments(group, source, rendered, rows, np.subtract(bounds, true)))
    return out


def exact_moments() -> list[Moments]:
    """Repetitions of exact sets by every law, looked at by the model of looking."""
    out = []
    for number, law in enumerate(LAWS):
        for seed in range(SETS):
            rng = np.random.default_rng([number, seed])
            exact = exact_set(law, rng)
            one = MeasuredSet(*measured(exact, rng), exact.reps)
            out += moments(one, "rising", law, f"{law} {seed}")
    return out


def clip_moments(example: Example, angle: np.ndarray, exercise: Exercise) -> list[Moments]:
    """Repetitions of one look at a clip, as rendered and by other laws; angle (T,): the corrected drive."""
    course = np.column_stack([angle / TRUNK_DEG, example.course[:, 1:]])
    plain = MeasuredSet(example.time_s, angle, course, example.true_reps)
    lift = exercise.drive.lift
    out = moments(plain, lift, example.body, example.clip, rendered=True)
    rng = np.random.default_rng(0)
    for law in LAWS:
        out += moments(by_law(plain, example.truth, law, rng), lift, example.body, example.clip)
    return out


def fit(*halves: tuple[Sequence[Moments], float]) -> dict[str, np.ndarray]:
    """Trees for each of the four moments; halves: repetitions and their weight, each source one vote."""
    every: list[Moments] = []
    weight: list[float] = []
    for found, size in halves:
        votes: dict[str, int] = defaultdict(int)
        for one in found:
            votes[one.source] += 1
        every += found
        weight += [size / votes[one.source] / len(votes) for one in found]
    arrays: dict[str, np.ndarray] = {}
    for m, name in enumerate(MOMENTS):
        x, y = np.array([one.rows[m] for one in every]), np.array([one.late[m] for one in every])
        model = GradientBoostingRegressor(min_samples_leaf=SMALLEST_LEAF, **TREES)
        model.fit(x, y, np.array(weight) * len(every))
        arrays |= {f"{name}_{k}": v for k, v in as_arrays(model).items()}
    return arrays


def remaining(found: Sequence[Moments], arrays: dict[str, np.ndarray]) -> np.ndarray:
    """How much too late (N, 4) the moments of repetitions still are."""
    trees = [Trees.of(arrays, f"{name}_") for name in MOMENTS]
    told = [tree.predict(np.array([one.rows[m] for one in found])) for m, tree in enumerate(trees)]
    return np.array([one.late for one in found]) - np.column_stack(told)


def corrected_drives(examples: Sequence[Example]) -> list[np.ndarray]:
    """Drive of each example (T,), corrected without its body; as shipped where there are too few."""
    if len({e.body for e in examples}) < FEWEST_BODIES:
        return [e.corrected for e in examples]
    rates = [1.0 / float(e.time_s[1] - e.time_s[0]) for e in examples]
    angles = zip(examples, left_out(examples), rates, strict=True)
    return [e.raw + filter_known(a - e.raw, rate, CUTOFF_HZ) for e, a, rate in angles]


def main() -> None:
    """Learn one file for each exercise; print the errors before and after, by law and by machine."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.bounds", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    groups = examples_of(parser.parse_args().clips)
    exact = exact_moments()
    by_law = _say_by_law(exact)
    machines: dict[str, list[Moments]] = {name: [] for name in exercise_names()}
    for (exercise, _), examples in sorted(groups.items()):
        for example, angle in zip(examples, corrected_drives(examples), strict=True):
            machines[exercise] += clip_moments(example, angle, find_exercise(exercise))
    for exercise, own in machines.items():
        arrays = fit((exact, 1.0), (own, OWN_WEIGHT))
        np.savez_compressed(FOLDER / f"bounds-{exercise}.npz", **arrays, allow_pickle=False)
        if len({one.group for one in own}) > 1:
            by_body, clips = _say_by_body(exercise, exact, own)
            half, on = max(
                (by_law, "made sets, one law left out at a time"), (by_body, f"{clips} tuning clips")
            )
            update(exercise, "duration_s", round(half, 2), on)


def _say_by_law(exact: Sequence[Moments]) -> float:
    """What is left under each law when nothing was learnt from it; nine in ten durations' half-width, s."""
    errors = []
    for law in LAWS:
        unseen = [one for one in exact if one.group == law]
        left = remaining(unseen, fit(([one for one in exact if one.group != law], 1.0)))
        _say(law, unseen, left)
        errors += _durations(unseen, left)
    half = half_width(errors)
    print(f"laws never seen: nine in ten durations within {half:.2f} s")
    return half


def _durations(found: Sequence[Moments], left: np.ndarray) -> list[np.ndarray]:
    """Errors of lift and lower, s, those of one set together."""
    out: dict[str, list[float]] = defaultdict(list)
    for one, late in zip(found, left, strict=True):
        out[one.source] += [late[1] - late[0], late[3] - late[2]]
    return [np.array(errors) for errors in out.values()]


def _say_by_body(exercise: str, exact: Sequence[Moments], own: Sequence[Moments]) -> tuple[float, int]:
    """What is left on a machine's clips, as rendered, when nothing was learnt from their body.

    Nine in ten durations' half-width, s, 0 with too few bodies to tell; and of how many clips.
    """
    shown: list[Moments] = []
    left = []
    for body in sorted({float(one.group) for one in own}):
        arrays = fit((exact, 1.0), ([one for one in own if one.group != body], OWN_WEIGHT))
        some = [one for one in own if one.group == body and one.rendered]
        shown += some
        left.append(remaining(some, arrays))
    after = np.concatenate(left)
    _say(exercise, shown, after)
    durations = _durations(shown, after)
    half = half_width(durations)
    print(f"{exercise}: nine in ten durations within {half:.2f} s")
    return (half if len(left) >= FEWEST_BODIES else 0.0), len(durations)


def _say(what: str, found: Sequence[Moments], after: np.ndarray) -> None:
    before = np.array([one.late for one in found])
    bias = [e.mean(axis=0).round(3).tolist() for e in (before, after)]
    off = [np.abs(e).mean(axis=0).round(3).tolist() for e in (before, after)]
    print(f"{what}: off by {off[0]} -> {off[1]} s, bias {bias[0]} -> {bias[1]} s", flush=True)


if __name__ == "__main__":
    main()
