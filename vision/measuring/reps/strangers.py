"""Movements that were cut like repetitions but are none of the set: each is held against the set's others.

A repetition, good or bad, is made with the hips on the seat, the trunk on its usual course and the hand or
foot on the way that the machine gives it, in about the time that the others take. How much each of these
tells is learnt from made sets in which all of it is known (``vision/data/strangers.json``).
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.special import expit

from shared.domain import Floats, Rep, RepSet, Track
from vision.common.quantities import listed
from vision.measuring.reps.limb_way import went
from vision.measuring.reps.membership import during, far_off

WEIGHTS = Path(__file__).parents[2] / "data" / "strangers.json"
#: From this probability on a movement is none of the set: a lost repetition costs as much as a false one.
STRANGE = 0.6
#: Nearer than this to its way, in trunk lengths, a point is on it; shorter phases are not told apart, s.
NEAREST, SHORTEST_S = 0.01, 0.1
#: Of two limbs on one load neither stays where it is while the other goes its way, in shares of that.
STAYS_SHARE, GOES_SHARE = 0.1, 0.5
#: A joint moved as usual within this share of its range; its hand or foot then goes half of its way at least.
USUAL_SHARE, HALF_THE_WAY = 0.2, 0.5
#: So many movements of one side alone, or of so short a way, are how the set was done.
OFTEN_ALONE = 1 / 3
#: Hands are pushed down, or a face is wiped: a film tells which, and a hand's way does not always.
LEFT_OUT = (
    "A movement at {when} s was left out, because it was not done like the others. Look at it in the clip: "
    "if it was a full repetition, add it to the count."
)
LEFT_OUT_MANY = (
    "Movements at {when} s were left out, because they were not done like the others. Look at them in the "
    "clip: if they were full repetitions, add them to the count."
)
#: Of the moments of a repetition, the middle one and one that nearly all others are nearer than.
MIDDLE, MOST = 50.0, 90.0


def without_strangers(track: Track, reps: RepSet, ends: tuple[str, ...], *, by_joint: bool = False) -> RepSet:
    """The set without movements that are none of it; all of them where too few would be left.

    by_joint: the drive is the angle of one joint, so that the end of the limb goes with it.
    """
    odd = (strangeness(features(track, reps, ends)) > STRANGE) | one_side_alone(track, reps, ends)
    if by_joint and len(ends) == 1:
        odd |= goes_elsewhere(track, reps, ends[0])
    kept = [rep for rep, strange in zip(reps.reps, odd, strict=True) if not strange]
    if len(kept) == len(reps.reps) or not any(not rep.partial for rep in kept):
        return reps
    rests = [
        max(0.0, later.start_s - rep.end_s) if later.number == rep.number + 1 else None
        for rep, later in pairwise(kept)
    ]
    again = [
        replace(rep, number=i + 1, rest_s=rest)
        for i, (rep, rest) in enumerate(zip(kept, [*rests, None], strict=True))
    ]
    start_s, last_s = again[0].start_s, again[-1].start_s
    left_out = (rep.start_s for rep, strange in zip(reps.reps, odd, strict=True) if strange)
    return replace(
        reps, reps=tuple(again), start_s=start_s, end_s=again[-1].end_s,
        left_out_s=tuple(at for at in left_out if start_s < at < last_s),
    )  # fmt: skip


def told_left_out(reps: RepSet) -> list[str]:
    """What to say of movements between the repetitions that were left out, if any."""
    if not reps.left_out_s:
        return []
    when = listed([f"{at:.1f}" for at in reps.left_out_s])
    return [(LEFT_OUT if len(reps.left_out_s) == 1 else LEFT_OUT_MANY).format(when=when)]


def one_side_alone(track: Track, reps: RepSet, ends: tuple[str, ...]) -> np.ndarray:
    """Whether one hand or foot stayed where it was while the other went, as to wipe the face, (R,) bool.

    Both hold one load, or two that go together. A side that is not seen says nothing.
    """
    part = ends[0].split("_", 1)[1]
    far = np.array([went(track, reps, f"{side}_{part}") for side in ("left", "right")])
    with np.errstate(invalid="ignore"):
        alone = (far.min(axis=0) < STAYS_SHARE) & (far.max(axis=0) > GOES_SHARE)
    return np.asarray(alone & (alone.mean() < OFTEN_ALONE))


def goes_elsewhere(track: Track, reps: RepSet, end: str) -> np.ndarray:
    """Whether the joint moved as usual and took its hand or foot less than half as far, (R,) bool.

    An elbow bends as far for the bar as for the face, and which of them the hand goes to is told by its way
    alone where the other hand is not seen.
    """
    far = went(track, reps, end)
    as_usual = np.abs(np.array([rep.range_share for rep in reps.reps]) - 1.0) <= USUAL_SHARE
    with np.errstate(invalid="ignore"):
        elsewhere = as_usual & (far < HALF_THE_WAY)
    return np.asarray(elsewhere & (elsewhere.mean() < OFTEN_ALONE))


def strangeness(found: dict[str, Floats]) -> Floats:
    """The probability (R,) that each of R movements is none of the set."""
    weights = _weights()
    total = sum((weights[name] * values for name, values in found.items()), np.float64(weights["base"]))
    return np.asarray(expit(total))


def features(track: Track, reps: RepSet, ends: tuple[str, ...]) -> dict[str, Floats]:
    """What tells a stranger, each (R,): places in logarithms of trunk lengths, times to the set's own."""
    out: dict[str, Floats] = {}
    parts = {"hip": (f"{track.near}_hip",), "shoulder": (f"{track.near}_shoulder",), "end": ends}
    for part, names in parts.items():
        far = np.max([far_off(track, reps, name) for name in names], axis=0) / track.trunk_px
        for name, percent in (("middle", MIDDLE), ("most", MOST)):
            off = np.log([max(NEAREST, _percentile(far[during(track, rep)], percent)) for rep in reps.reps])
            out |= {f"{part}_{name}": off, f"{part}_{name}_more": off - np.median(off)}
    up = _times(reps.reps, lambda rep: rep.turn_s - rep.start_s)
    down = _times(reps.reps, lambda rep: rep.end_s - rep.lower_start_s)
    share = np.array([rep.range_share for rep in reps.reps])
    order = np.arange(len(reps.reps))
    return out | {
        "up": np.abs(up),
        "down": np.abs(down),
        "long": _times(reps.reps, lambda rep: rep.end_s - rep.start_s),
        "hold": _times(reps.reps, lambda rep: rep.lower_start_s - rep.turn_s),
        "far": np.maximum(share - 1.0, 0.0),
        "short": np.maximum(1.0 - share, 0.0),
        "first": (order == 0).astype(float),
        "last": (order == order[-1]).astype(float),
    }


def _percentile(far: Floats, percent: float) -> float:
    known = far[~np.isnan(far)]
    return float(np.percentile(known, percent)) if len(known) else 0.0


def _times(reps: Sequence[Rep], of: Callable[[Rep], float]) -> Floats:
    """Logarithms of a time against the set's usual one, (R,)."""
    logs = np.log([max(of(rep), 0.0) + SHORTEST_S for rep in reps])
    return np.asarray(logs - np.median(logs))


@lru_cache
def _weights() -> dict[str, float]:
    return {name: float(value) for name, value in json.loads(WEIGHTS.read_text(encoding="utf-8")).items()}
