"""Learnt corrections: landmark geometry -> the joint's true angle, per exercise and kind of view.

Landmarks of a limb that leaves the picture's plane give a wrong angle in that plane. On sets with
exact truth a small network learnt what the true drive angle is, given where the limb's points lie
(``vision/features.py``). ``python -m tests.bench.learn`` makes the files in ``vision/data/`` anew.
What it learnt on rendered people may not suit a real one: ``--raw`` leaves it out, and where a clip
lies outside what was learnt the raw angle stays, with a wide interval. Near the ends of a movement
the measured drive flattens sooner than the true one: by how much was learnt as well.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from shared.domain import Floats, Track
from shared.exercise import CameraView
from vision.features import track_features
from vision.phases import NO_LEAD, Lead

FOLDER = Path(__file__).parent / "data"
#: A moment lies outside what was learnt when a feature is this many spreads from the mean.
OUTSIDE_SPREADS = 7.0
#: A clip with more than this share of such moments is not corrected at all.
OUTSIDE_SHARE = 0.2
#: A correction never moves an angle by more than this many degrees.
LARGEST_DEG = 60.0


@dataclass(frozen=True)
class Correction:
    """One network, one hidden layer of tanh units; degrees out.

    mean, spread (F,); first (F, H), first_bias (H,); last (H,), last_bias, scale: degrees a unit.
    """

    family: str
    mean: Floats
    spread: Floats
    first: Floats
    first_bias: Floats
    last: Floats
    last_bias: float
    scale: float

    def predict(self, rows: Floats) -> Floats:
        """Angles (T,) of feature rows (T, F); NaN where a feature is not known."""
        hidden = np.tanh(self._standard(rows) @ self.first + self.first_bias)
        return np.asarray((hidden @ self.last + self.last_bias) * self.scale)

    def outside(self, rows: Floats) -> np.ndarray:
        """Which rows lie outside what was learnt; unknown rows do not."""
        with np.errstate(invalid="ignore"):
            return np.asarray((np.abs(self._standard(rows)) > OUTSIDE_SPREADS).any(axis=1))

    def _standard(self, rows: Floats) -> Floats:
        return np.asarray((rows - self.mean) / self.spread)


@lru_cache
def load_correction(exercise: str, view: CameraView) -> Correction | None:
    """The correction of an exercise in a view; None where none was learnt."""
    path = FOLDER / f"{exercise}-{view}.npz"
    if not path.exists():
        return None
    with np.load(path, allow_pickle=False) as data:
        arrays = {k: data[k].astype(float) for k in ("mean", "spread", "first", "first_bias", "last")}
        return Correction(
            family=str(data["family"]),
            last_bias=float(data["last_bias"]),
            scale=float(data["scale"]),
            **arrays,
        )


@lru_cache
def load_lead(exercise: str) -> Lead:
    """How far the exercise's phase boundaries were seen to lie behind the true ones, in phases."""
    path = FOLDER / "lead.json"
    found = json.loads(path.read_text()).get(exercise) if path.exists() else None
    return tuple(found) if found else NO_LEAD


def correct(track: Track, exercise: str, view: CameraView, raw: Floats) -> tuple[Floats, bool]:
    """The corrected drive angle (T,), and whether anything was corrected.

    Where a needed point is unknown the angle is unknown; a clip that lies outside what was learnt
    keeps its raw angle throughout.
    """
    correction = load_correction(exercise, view)
    if correction is None:
        return raw, False
    rows = track_features(track, correction.family)
    known = ~np.isnan(rows).any(axis=1)
    if not known.any() or correction.outside(rows[known]).mean() > OUTSIDE_SHARE:
        return raw, False
    return np.clip(correction.predict(rows), raw - LARGEST_DEG, raw + LARGEST_DEG), True
