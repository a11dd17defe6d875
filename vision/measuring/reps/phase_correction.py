"""How the four moments of a repetition are told: by the whole limb, then moved by what was learnt.

What is left then depends on how the person moves: the end of a soft movement is told too early, and the
filter and a few looks a second blur a hard one. Small boosted trees learnt how much from the load's own
course about each moment, on exact sets by many laws of motion and on rendered clips that were moved by
them, so that they lean on no single one. ``python -m sample_clips.learning.bounds`` makes
``vision/data/bounds-*.npz`` anew; ``--raw`` leaves them out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from shared.domain import Floats, Track
from shared.exercise import Exercise
from vision.measuring.learnt.features import family_of
from vision.measuring.learnt.trees import Trees
from vision.measuring.reps.ends import limb_course, told_by_limb
from vision.measuring.reps.phases import Bounds, in_order

FOLDER = Path(__file__).parents[2] / "data"
MOMENTS = ("start", "turn", "lower_start", "end")
#: Where the drive is read, from a moment into its phase: in s, and in shares of the phase.
READ_S = (-0.6, -0.4, -0.25, -0.12, 0.12, 0.25, 0.4, 0.6)
READ_SHARE = (0.1, 0.2, 0.3, 0.5, 0.8)
#: Shares of the range whose crossing is timed.
CROSSED = (0.03, 0.06, 0.1, 0.2, 0.35, 0.5)
#: A rest longer than this tells nothing more.
LONGEST_REST_S = 1.5
SHORTEST_PHASE_S = 0.2
#: No moment is moved further than this, in s and in shares of its phase.
FURTHEST_S, FURTHEST_SHARE = 0.5, 0.4
_STEP_S = 1 / 60

#: Bounds of every repetition, the load (T,) and its clock (T,) s -> the same bounds, corrected.
PhaseCorrection = Callable[[Sequence[Bounds], Floats, Floats], list[Bounds]]


def uncorrected(bounds: Sequence[Bounds], load: Floats, time_s: Floats) -> list[Bounds]:
    """Nothing is corrected."""
    return list(bounds)


def by_limb(track: Track, exercise: Exercise, drive: Floats, learnt: PhaseCorrection) -> PhaseCorrection:
    """The moments by the whole limb of a track whose drive is (T,) degrees, then by what was learnt."""
    course = limb_course(track, family_of(exercise), drive)

    def correct(bounds: Sequence[Bounds], load: Floats, time_s: Floats) -> list[Bounds]:
        told, fine = told_by_limb(course, load, time_s=time_s, found=bounds)
        return learnt(told, fine, time_s)

    return correct


@lru_cache
def load_phase_correction(exercise: str) -> PhaseCorrection:
    """The correction of an exercise; nothing is corrected where none was learnt."""
    path = FOLDER / f"bounds-{exercise}.npz"
    if not path.exists():
        return uncorrected
    with np.load(path, allow_pickle=False) as data:
        return phase_correction_by([Trees.of(data, f"{name}_") for name in MOMENTS])


def phase_correction_by(trees: Sequence[Trees]) -> PhaseCorrection:
    """The correction that trees for each of the four moments make; they give seconds too late."""

    def correct(bounds: Sequence[Bounds], load: Floats, time_s: Floats) -> list[Bounds]:
        between = rests_of(bounds)
        moved = []
        for one, beside in zip(bounds, pairwise(between), strict=True):
            late = [
                float(tree.predict(moment_features(load, time_s, bounds=one, which=i, rests=beside)[None])[0])
                for i, tree in enumerate(trees)
            ]
            most = _most(one)
            moved.append(np.array(one) - np.clip(late, -most, most))
        return in_order(moved)

    return correct


def _most(bounds: Bounds) -> Floats:
    """The furthest each moment may be moved, (4,) s."""
    start, turn, lower_start, end = bounds
    phase_s = np.array([turn - start, turn - start, end - lower_start, end - lower_start])
    return np.asarray(np.minimum(FURTHEST_S, FURTHEST_SHARE * phase_s))


def rests_of(bounds: Sequence[Bounds]) -> list[float]:
    """Rest before each repetition and after the last, s."""
    between = [later[0] - earlier[3] for earlier, later in pairwise(bounds)]
    return [LONGEST_REST_S, *between, LONGEST_REST_S]


def moment_features(
    load: Floats, time_s: Floats, bounds: Bounds, which: int, rests: tuple[float, float]
) -> Floats:
    """What is told of moment ``which`` (0 to 3) of a repetition, (30,).

    The load about it over the phase's range, when shares of the range are passed, and the lengths of
    the phases and of what lies between. rests: before and after the repetition, s.
    """
    start, turn, lower_start, end = bounds
    lift_s, lower_s = max(turn - start, SHORTEST_PHASE_S), max(end - lower_start, SHORTEST_PHASE_S)
    lifting, at_top = which < 2, which in (1, 2)
    phase_s = lift_s if lifting else lower_s
    inward = 1.0 if which in (0, 2) else -1.0
    outer = (start, turn) if lifting else (lower_start, end)
    low, high = np.interp(outer, time_s, load)
    size = max(abs(float(high - low)), 1e-6)
    moment = bounds[which]
    level = float(np.interp(moment, time_s, load))

    def travelled(inside_s: Floats) -> Floats:
        values = np.interp(moment + inward * inside_s, time_s, load)
        return np.asarray((level - values if at_top else values - level) / size)

    clock = np.arange(0, phase_s, _STEP_S)
    way = travelled(clock)
    crossed = np.array([clock[int(np.argmax(way >= q))] if (way >= q).any() else phase_s for q in CROSSED])
    rest = min(rests[0] if lifting else rests[1], LONGEST_REST_S)
    return np.concatenate(
        [
            travelled(np.array(READ_S)),
            travelled(np.array(READ_SHARE) * phase_s),
            crossed,
            crossed / phase_s,
            [phase_s, lift_s, lower_s, lower_start - turn if at_top else rest],
            [(crossed[3] - crossed[2]) / phase_s],
        ]
    )
