"""Command: python -m sample_clips.learning.drive CLIP.mp4 ...: learns vision/data/*.npz anew, says how well.

From rendered clips of the tuning part, for each exercise and kind of view: what the raw drive angle
lacked at every moment of the set, by one look at the clip and by the mean of two, each clip one vote.
How good that is on people who were not learnt from is measured by leaving one body out at a time; the
errors left at both ends of the repetitions give the stated half-width. Kept is what is least off: nothing,
what was learnt, its mean with what the file held before, or that alone. Deterministic.
"""

from __future__ import annotations

import argparse
import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from sklearn.ensemble import GradientBoostingRegressor

from sample_clips.learning.conformal import half_width
from sample_clips.learning.learnt_file import update
from sample_clips.looks import seen_again_cached, seen_cached
from sample_clips.rendered import CACHE, truth_arrays, truth_of
from shared.domain import Signal
from shared.exercise import find_exercise
from vision.judging.options import Options
from vision.measuring.learnt.correction import FOLDER, Correction, correct, load_correction
from vision.measuring.learnt.features import BY_LENGTHS, family_of, track_features
from vision.measuring.learnt.trees import Trees
from vision.measuring.measure import stays
from vision.measuring.reps.ends import limb_course
from vision.measuring.reps.find_reps import END_MEDIAN_S
from vision.measuring.reps.phases import Bounds
from vision.measuring.signals.signal import view_word
from vision.measuring.track.two_looks import mean_of_looks
from vision.pipeline import judge_seen
from vision.seeing.look import Seen
from vision.seeing.pose_mediapipe import MediaPipePose

TREES = {"n_estimators": 150, "max_depth": 3, "learning_rate": 0.05, "subsample": 0.5, "max_features": 0.4}
TREES |= {"random_state": 0}
FEWEST_BODIES = 3
#: With fewer, an angle that is learnt follows one of them.
FEWEST_FOR_ANGLE = 7
WIDE = re.compile(r"-wide-(\d+)$")
#: What a file held stays unless something else is off by no more than this share of it.
CLEARLY = 0.9
#: People are left out in this many groups at most, so that learning from many takes no longer.
MOST_GROUPS = 10
#: Learnt from only while the joint moves slower than this, deg/s: the landmarks lag behind a quick limb.
SLOW_DEG_S = 60.0


@dataclass(frozen=True)
class Example:
    """One clip: features (T, F), raw and true angle (T,), and the true (time, angle) of both ends.

    course (T, D): the limb's, see ``vision.measuring.reps.ends``, and corrected (T,): the drive as shipped;
    drive: the raw drive; stays (T,): see ``vision.pipeline.stays``; true_reps: true bounds of the full
    repetitions, s; truth: the true drive's clock and values, (F,) each.
    """

    exercise: str
    clip: str
    body: float
    time_s: np.ndarray
    rows: np.ndarray
    raw: np.ndarray
    true: np.ndarray
    ends: list[tuple[float, float]]
    drive: Signal
    stays: np.ndarray
    true_reps: list[Bounds]
    truth: tuple[np.ndarray, np.ndarray]
    course: np.ndarray
    corrected: np.ndarray

    def known(self) -> np.ndarray:
        """Moments (T,) inside the set at which all is known and the joint moves slowly."""
        first, last = self.ends[0][0] - 2.0, self.ends[-1][0] + 0.3
        inside = (self.time_s > first) & (self.time_s < last)
        slow = np.abs(np.gradient(self.true, self.time_s)) < SLOW_DEG_S
        return np.asarray(inside & slow & ~np.isnan(self.rows).any(axis=1))

    def end_errors(self, angle: np.ndarray) -> np.ndarray:
        """Measured less true angle at both ends of each repetition."""
        out = []
        for moment, true in self.ends:
            near = angle[np.abs(self.time_s - moment) < END_MEDIAN_S]
            if np.isfinite(near).any():
                out.append(float(np.nanmedian(near)) - true)
        return np.array(out)


def looks_at(clip: Path) -> list[Seen]:
    """One look at a clip, and the mean of two: as sets without and with flags are judged.

    Of the many wide sets (``sample_clips.rendering.make_wide``) every third is looked at twice.
    """
    seen = seen_cached(clip, MediaPipePose(), CACHE)
    wide = WIDE.search(clip.stem)
    if seen.dense is None or (wide and int(wide[1]) % 3):
        return [seen]
    again = seen_again_cached(clip, MediaPipePose(), CACHE, seen)
    return [seen, replace(seen, dense=mean_of_looks(seen.dense, again))]


def example(clip: Path, truth: dict[str, Any], seen: Seen) -> tuple[str, Example] | None:
    """View and example of one look at a clip; None when it was not judged."""
    exercise = find_exercise(truth["exercise"])
    analysis = judge_seen(seen, exercise, Options(raw=True, cleared=True))
    track = analysis.track
    if track is None or analysis.reps is None or not analysis.report.quality.usable:
        return None
    arrays = truth_arrays(clip.with_name(f"{clip.stem}.truth.npz"))
    raw = analysis.signals[exercise.drive.signal].values
    ends = []
    for rep in truth["reps"]:
        ends.append(((rep["turn_s"] + rep["lower_start_s"]) / 2, rep["drive_lift_end_deg"]))
        ends.append((rep["end_s"], rep["drive_load_down_deg"]))
    true = np.interp(track.time_s, arrays["time_s"], arrays["drive_deg"])
    rows = track_features(track, family_of(exercise), raw)
    full = [rep for rep in truth["reps"] if not rep["partial"]]
    return view_word(track), Example(
        exercise=exercise.name,
        clip=truth["name"],
        body=truth["body"]["stature_cm"],
        time_s=track.time_s,
        rows=rows,
        raw=raw,
        true=true,
        ends=ends,
        drive=analysis.signals[exercise.drive.signal],
        stays=stays(track),
        true_reps=[(rep["start_s"], rep["turn_s"], rep["lower_start_s"], rep["end_s"]) for rep in full],
        truth=(arrays["time_s"], arrays["drive_deg"]),
        course=limb_course(track, family_of(exercise), raw),
        corrected=correct(track, exercise, view_word(track), raw)[0],
    )


def fit(examples: Sequence[Example]) -> dict[str, np.ndarray]:
    """Boosted trees of the missing degrees, as arrays that ``learnt.correction.Correction`` takes."""
    parts = [(e.rows[k], (e.true - e.raw)[k], k.sum()) for e in examples if (k := e.known()).any()]
    x, y = np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
    weight = np.concatenate([np.full(n, 1.0 / n) for _, _, n in parts])
    leaf = max(30, len(y) // 60)
    model = GradientBoostingRegressor(min_samples_leaf=leaf, **TREES).fit(x, y, weight * len(y))
    return as_arrays(model) | {
        "low": x[:, :-BY_LENGTHS].min(axis=0).astype(np.float32),
        "high": x[:, :-BY_LENGTHS].max(axis=0).astype(np.float32),
    }


def as_arrays(model: GradientBoostingRegressor) -> dict[str, np.ndarray]:
    """A fitted model as the arrays of ``vision.measuring.learnt.trees.Trees``."""
    trees = [_arrays(tree.tree_, model.max_depth) for tree in model.estimators_[:, 0]]
    feature, threshold, leaf = (np.array(part) for part in zip(*trees, strict=True))
    return {
        "feature": feature.astype(np.int8),
        "threshold": threshold.astype(np.float32),
        "leaf": (leaf * model.learning_rate).astype(np.float32),
        "base": np.array(float(model.init_.constant_[0, 0])),
    }


def _arrays(tree: Any, depth: int) -> tuple[list[int], list[float], list[float]]:
    """Splits, level by level, and leaves of one tree; where it ends early everything goes left."""
    feature, threshold, nodes = [], [], [0]
    for _ in range(depth):
        below = []
        for node in nodes:
            ends = tree.children_left[node] < 0
            feature.append(0 if ends else int(tree.feature[node]))
            threshold.append(np.inf if ends else float(tree.threshold[node]))
            below += [node, node] if ends else [tree.children_left[node], tree.children_right[node]]
        nodes = below
    return feature, threshold, tree.value[nodes, 0, 0].tolist()


def left_out(examples: Sequence[Example]) -> list[np.ndarray]:
    """Corrected angle of each example, learnt without its body and those in its group."""
    bodies = sorted({e.body for e in examples})
    group = {body: i % MOST_GROUPS for i, body in enumerate(bodies)}
    made = {g: Trees.of(fit([e for e in examples if group[e.body] != g])) for g in set(group.values())}
    return [e.raw + made[group[e.body]].predict(e.rows) for e in examples]


def examples_of(clips: Iterable[Path]) -> dict[tuple[str, str], list[Example]]:
    """Examples by exercise and view; SystemExit for a clip of the validation part."""
    groups = defaultdict(list)
    for clip in clips:
        truth = truth_of(clip)
        if truth["part"] == "validate":
            raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
        for seen in looks_at(clip) if truth["fit"] else ():
            if (found := example(clip, truth, seen)) is not None:
                groups[truth["exercise"], found[0]].append(found[1])
    return groups


def main() -> None:
    """Learn one file for each exercise and kind of view, and print the errors at both ends."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.drive", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    halves: dict[str, dict[str, float]] = defaultdict(dict)
    clips: dict[str, set[str]] = defaultdict(set)
    for (exercise, view), examples in sorted(examples_of(parser.parse_args().clips).items()):
        print(learn(exercise, view, examples), flush=True)
        joint = find_exercise(exercise).signals[find_exercise(exercise).drive.signal].params.get("joint")
        if joint is not None:
            half = round(half_width([e.end_errors(e.raw) for e in examples]), 1)
            halves[exercise][joint] = max(halves[exercise].get(joint, 0.0), half)
            clips[exercise] |= {e.clip for e in examples}
    for exercise, joints in halves.items():
        update(exercise, "joint_deg", joints, f"{len(clips[exercise])} tuning clips")


def learn(exercise: str, view: str, examples: Sequence[Example]) -> str:
    """Write what is least off on bodies left out: nothing, what was learnt, or its mean with what the file
    held, which stays as it is where none of these is clearly nearer; returns how far off each was.

    What the file held is taken as it is, also on people whom it may have learnt from.
    """
    before, place = load_correction(exercise, view), FOLDER / f"{exercise}-{view}.npz"
    ways = {"raw": [e.raw for e in examples]}
    if before is not None:
        ways["held"] = [e.raw + before.trees.predict(e.rows) for e in examples]
    if len({e.body for e in examples}) >= FEWEST_FOR_ANGLE:
        ways["learnt"] = left_out(examples)
        if before is not None:
            both = zip(ways["learnt"], ways["held"], strict=True)
            ways["learnt and held"] = [(a + b) / 2 for a, b in both]
    errors = {
        way: [e.end_errors(a) for e, a in zip(examples, angles, strict=True)] for way, angles in ways.items()
    }
    best = min(errors, key=lambda way: _mean(errors[way]) * (CLEARLY if way == "held" else 1.0))
    if best == "raw":
        place.unlink(missing_ok=True)
    elif best != "held":
        arrays = fit(examples)
        if best == "learnt and held" and before is not None:
            arrays = joined(arrays, before)
        half = np.array(half_width(errors[best]))
        np.savez_compressed(place, **arrays, half_deg=half, allow_pickle=False)
    told = "; ".join(_said(way, found) for way, found in errors.items())
    return f"{exercise} {view}: {len({e.clip for e in examples})} clips, {told}; kept: {best}"


def joined(arrays: dict[str, np.ndarray], before: Correction) -> dict[str, np.ndarray]:
    """The mean of two corrections, as one; it spans what either has seen."""
    trees, depth = before.trees, Trees.of(arrays).depth
    if trees.depth < depth:
        trees = _deeper(trees, depth)
    return {
        "feature": np.concatenate([arrays["feature"], trees.feature.astype(np.int8)]),
        "threshold": np.concatenate([arrays["threshold"], trees.threshold.astype(np.float32)]),
        "leaf": np.concatenate([arrays["leaf"], trees.leaf.astype(np.float32)]) / 2,
        "base": (arrays["base"] + trees.base) / 2,
        "low": np.minimum(arrays["low"], before.low.astype(np.float32)),
        "high": np.maximum(arrays["high"], before.high.astype(np.float32)),
    }


def _deeper(trees: Trees, depth: int) -> Trees:
    """The same trees with splits below their leaves, at which everything goes left."""
    more = 2**depth - 1 - trees.feature.shape[1]
    return Trees(
        feature=np.pad(trees.feature, ((0, 0), (0, more))),
        threshold=np.pad(trees.threshold, ((0, 0), (0, more)), constant_values=np.inf),
        leaf=np.repeat(trees.leaf, 2 ** (depth - trees.depth), axis=1),
        base=trees.base,
    )


def _said(what: str, errors: Sequence[np.ndarray]) -> str:
    return f"{what} {_mean(errors):.2f} degrees off, half-width {half_width(errors):.1f}"


def _mean(errors: Sequence[np.ndarray]) -> float:
    return float(np.mean([np.abs(e).mean() for e in errors]))


if __name__ == "__main__":
    main()
