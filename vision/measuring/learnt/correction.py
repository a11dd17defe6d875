"""Learnt corrections: landmark geometry -> what the raw drive angle is off by, per exercise and view.

Landmarks of a limb that leaves the picture's plane give a wrong angle in that plane, and the landmark
model has habits of its own. On rendered sets with exact truth small boosted trees learnt what the raw
angle lacked, given where the limb's points lie (``vision/measuring/learnt/features.py``).
``python -m sample_clips.learning.drive`` makes the files in ``vision/data/`` anew. What was learnt on
rendered people may not suit a real one: ``--raw`` leaves it out, and where a clip lies outside what was
learnt the raw angle stays, with a wide interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np

from shared.domain import Floats, Track
from shared.exercise import CameraView, Exercise
from vision.measuring.learnt.data import load_learnt
from vision.measuring.learnt.features import family_of, track_features
from vision.measuring.learnt.trees import Trees
from vision.measuring.track.filters import filter_known

FOLDER = Path(__file__).parents[2] / "data"
#: A moment lies outside what was learnt when a feature leaves the learnt range by this share of it.
OUTSIDE_MARGIN = 0.3
#: A clip with more than this share of such moments is not corrected at all.
OUTSIDE_SHARE = 0.2
#: The correction changes no faster than this: steps between leaves are no movement.
CUTOFF_HZ = 2.0


@dataclass(frozen=True)
class Correction:
    """trees: degrees to add; low, high (K,): range of the learnt features but for what a limb's lengths
    tell (``features.BY_LENGTHS``); half_deg: half-width of the 90 % interval of the corrected angle at both
    ends.
    """

    trees: Trees
    low: Floats
    high: Floats
    half_deg: float

    def outside(self, rows: Floats) -> np.ndarray:
        """Which rows lie outside what was learnt, but for the lengths; unknown rows do not."""
        rows, margin = rows[:, : len(self.low)], OUTSIDE_MARGIN * (self.high - self.low)
        with np.errstate(invalid="ignore"):
            return np.asarray(((rows < self.low - margin) | (rows > self.high + margin)).any(axis=1))


@lru_cache
def load_correction(exercise: str, view: CameraView) -> Correction | None:
    """The correction of an exercise in a view; None where none was learnt."""
    path = FOLDER / f"{exercise}-{view}.npz"
    if not path.exists():
        return None
    with np.load(path, allow_pickle=False) as data:
        low, high = data["low"].astype(float), data["high"].astype(float)
        return Correction(Trees.of(data), low, high=high, half_deg=float(data["half_deg"]))


def correct(track: Track, exercise: Exercise, view: CameraView, raw: Floats) -> tuple[Floats, float | None]:
    """The corrected drive angle (T,) and its half-width in degrees, None when nothing was corrected.

    Where a needed point is unknown the angle is unknown; a clip that lies outside what was learnt
    keeps its raw angle throughout.
    """
    correction = load_correction(exercise.name, view)
    if correction is None:
        return raw, None
    rows = track_features(track, family_of(exercise), raw)
    known = ~np.isnan(rows).any(axis=1)
    if not known.any() or correction.outside(rows[known]).mean() > OUTSIDE_SHARE:
        return raw, None
    half_deg = max(correction.half_deg, load_learnt(exercise.name).drive_deg.get(view, 0.0))
    return raw + filter_known(correction.trees.predict(rows), track.rate_hz, CUTOFF_HZ), half_deg
