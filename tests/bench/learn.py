"""Command: python -m tests.bench.learn SIMULATED.npz CLIP.mp4 ...: learns vision/data/*.npz anew.

It learns from simulated sets (``tests/bench/simulate.py``: exact joints, bodies of the tuning part
only), moved off their joints the way landmarks were seen to lie off them on rendered tuning clips:
an offset a clip, drawn anew for each copy of a set, and a little noise. Then a straight line, shrunk
toward none, takes off what is left on average on rendered clips of the tuning part. Deterministic.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path

import numpy as np
from sklearn.neural_network import MLPRegressor

from shared.exercise import find_exercise
from tests.bench.__main__ import CACHE, truth_of
from tests.bench.replay import seen_cached, truth_arrays
from vision.analysis import Options
from vision.correction import FOLDER, Correction, load_correction
from vision.features import features, track_features
from vision.pipeline import judge_seen
from vision.pose_mediapipe import MediaPipePose
from vision.signals import view_word

#: Landmark less true joint, in trunk lengths of the mirrored picture: mean and spread over clips, x and y.
OFFSETS = {
    "shoulder": ((-0.02, -0.06), (0.025, 0.02)),
    "elbow": ((0.03, -0.02), (0.03, 0.03)),
    "wrist": ((0.02, 0.00), (0.03, 0.025)),
    "hip": ((0.01, 0.03), (0.03, 0.035)),
    "knee": ((0.01, -0.02), (0.03, 0.03)),
    "ankle": ((-0.04, -0.08), (0.02, 0.03)),
}
NOISE = 0.012
#: Tried and no better than the plain hand gap on tuning clips.
LEFT_RAW = ("chest-fly", "reverse-fly")
YAW_SPREAD_DEG = 7.0
COPIES = 3
HIDDEN = 24
SCALE = 30.0


def moved(
    points: dict[str, np.ndarray], trunk: float, mirror: int, rng: np.random.Generator
) -> dict[str, np.ndarray]:
    """Joints (T, 2) px by name, moved to where landmarks of one clip may lie."""
    out = {}
    for name, xy in points.items():
        mean, spread = OFFSETS[name.split("_", 1)[1]]
        offset = np.array(mean) + rng.normal(0, 1, 2) * np.array(spread)
        noise = rng.normal(0, NOISE, xy.shape)
        out[name] = xy + (offset + noise) * [mirror * trunk, trunk]
    return out


def trunk_of(points: dict[str, np.ndarray]) -> float:
    """Median mid-hip to mid-shoulder length, as the track takes it."""
    shoulder = (points["left_shoulder"] + points["right_shoulder"]) / 2
    hip = (points["left_hip"] + points["right_hip"]) / 2
    return float(np.median(np.linalg.norm(shoulder - hip, axis=1)))


def learn(sets: Iterable, seed: int = 0) -> dict[str, np.ndarray]:
    """One network from simulated sets of one exercise and kind of view."""
    rng = np.random.default_rng(seed)
    rows, angles = [], []
    for item in sets:
        family = "leg" if item.exercise.startswith("leg") else "arm"
        yaw = {"front": 0.0, "rear": 180.0, "side-left": 90.0, "side-right": -90.0}[
            item.view
        ] + item.yaw_off_deg
        near = item.near
        mirror = 1 if near == "right" else -1
        true = {f"{s}_{p}": item.xy(f"{s}_{p}") for s in ("left", "right") for p in OFFSETS}
        for _ in range(COPIES):
            points = moved(true, trunk_of(true), mirror, rng)
            turned = yaw + float(np.clip(rng.normal(0, YAW_SPREAD_DEG), -10.0, 10.0))
            rows.append(features(points.__getitem__, family, near, mirror, trunk_of(points), turned))
            angles.append(item.drive_deg)
    x, y = np.concatenate(rows), np.concatenate(angles)
    mean, spread = x.mean(axis=0), x.std(axis=0) + 1e-3
    net = MLPRegressor(
        hidden_layer_sizes=(HIDDEN,),
        activation="tanh",
        solver="lbfgs",
        alpha=3.0,
        max_iter=250,
        max_fun=20000,
        random_state=0,
    )
    net.fit((x - mean) / spread, y / SCALE)
    arrays = {"mean": mean, "spread": spread, "first": net.coefs_[0], "first_bias": net.intercepts_[0]}
    arrays |= {"last": net.coefs_[1][:, 0]}
    small = {k: v.astype(np.float32) for k, v in arrays.items()}
    return small | {
        "family": np.array(family),
        "last_bias": np.array(net.intercepts_[1][0]),
        "scale": np.array(SCALE),
    }


def settle(found: list[tuple[np.ndarray, np.ndarray]]) -> tuple[float, float]:
    """Offset (degrees) and gain that bring predictions nearest the truth, each clip one vote.

    found: predictions and true angles (T,) of each clip; ridge toward no offset and a gain of 1.
    """
    if not found:
        return 0.0, 1.0
    normal, right = np.diag([0.3, 1500.0]), np.zeros(2)
    for predicted, true in found:
        design = np.stack([np.ones(len(predicted)), predicted - 120.0], axis=1)
        normal += design.T @ design / len(predicted)
        right += design.T @ (true - predicted) / len(predicted)
    offset, slope = np.linalg.solve(normal, right)
    return float(offset - 120.0 * slope), float(1.0 + slope)


def rendered(clips: Iterable[Path], exercise: str, view: str, correction: Correction) -> list:
    """Predictions and truth at the landmarks of rendered clips that are not for validation."""
    out = []
    for clip in clips:
        truth = truth_of(clip)
        if truth["part"] == "validate":
            raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
        if truth["exercise"] != exercise or not truth["fit"]:
            continue
        seen = seen_cached(clip, MediaPipePose(), CACHE)
        track = judge_seen(seen, find_exercise(exercise), Options(raw=True)).track
        if track is None or view_word(track) != view:
            continue
        arrays = truth_arrays(clip.with_name(f"{clip.stem}.truth.npz"))
        true = np.interp(track.time_s, arrays["time_s"], arrays["drive_deg"])
        predicted = correction.predict(track_features(track, correction.family))
        start, end = truth["reps"][0]["start_s"], truth["reps"][-1]["end_s"]
        inside = (track.time_s > start) & (track.time_s < end) & ~np.isnan(predicted)
        if inside.sum() > 60 and np.abs(predicted - true)[inside].mean() < 25.0:
            out.append((predicted[inside], true[inside]))
    return out


def main() -> None:
    """Learn one file for each exercise and kind of view of the simulated sets."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.learn", description=__doc__)
    parser.add_argument("simulated", type=Path, help="what python -m tests.bench.simulate wrote")
    parser.add_argument("clips", type=Path, nargs="*", help="rendered clips of the tuning part")
    chosen = parser.parse_args()
    from tests.bench.simulated import load_sets

    groups = defaultdict(list)
    for item in load_sets(chosen.simulated):
        groups[item.exercise, item.view.split("-")[0]].append(item)
    FOLDER.mkdir(exist_ok=True)
    for (exercise, view), sets in sorted(groups.items()):
        if exercise in LEFT_RAW:
            continue
        path = FOLDER / f"{exercise}-{view}.npz"
        arrays = learn(sets)
        np.savez_compressed(path, **arrays)
        load_correction.cache_clear()
        correction = load_correction(exercise, view)
        offset, gain = settle(rendered(chosen.clips, exercise, view, correction))
        arrays["last"] = (arrays["last"] * gain).astype(np.float32)
        arrays["last_bias"] = np.array(arrays["last_bias"] * gain + offset / SCALE)
        np.savez_compressed(path, **arrays)


if __name__ == "__main__":
    main()
