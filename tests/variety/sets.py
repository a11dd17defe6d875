"""Whole sets drawn by a seed: a person, a camera, a machine, a way in, repetitions, a way out, slips."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Clip, Floats, Landmarks
from shared.exercise import find_exercise
from tests.variety.body import HAND, HIP, PITCH, SIZE, Body
from tests.variety.looks import LANDSCAPE, SLIPS, Camera, clip_of, landmarks_of
from tests.variety.machines import MACHINES, Machine
from tests.variety.script import STEP_S, DoneRep, Script
from tests.variety.ways import Part, ways
from vision.judging.options import Options
from vision.pipeline import judge_twice
from vision.seeing.look import Seen
from vision.seeing.subject import find_subject
from vision.telling.analysis import Analysis

#: Degrees a camera stands off its view, and how long trunks are over arms and legs, by part.
OFF_VIEW = {"design": (-14.0, 14.0), "wide": (-18.0, 18.0), "sealed": (-22.0, 22.0)}
LIMBS = {"design": (0.94, 1.06), "wide": (0.91, 1.09), "sealed": (0.88, 1.12)}
PROFILES = {
    "design": ((2.0, 2.0), (1.6, 2.1), (3.0, 3.0)),
    "wide": ((1.5, 1.5), (2.2, 1.4), (1.8, 2.8)),
    "sealed": ((1.3, 1.6), (2.6, 1.7), (1.5, 3.0)),
}
SEEDS = {"design": 0, "sealed": 1, "wide": 2}
#: How many repetitions of the wide part are done badly.
FAULT_SHARE = 0.2
#: How much the machine of a set of the wide part differs: directions, elbows and knees in degrees.
MACHINE_DEG = 8.0
#: A leg machine's limb is not where hands go; some ways then say nothing of the drive, and are kept all the
#: same.
SLIP_SHARE, SMALL_SHARE, BETWEEN_SHARE = 0.5, 0.15, 0.3


@dataclass(frozen=True)
class MadeSet:
    """One set and what was done in it; people, again: what two looks tell of it."""

    exercise: str
    way_in: str
    between: str
    way_out: str
    slips: tuple[str, ...]
    camera: Camera
    reps: tuple[DoneRep, ...]
    leaned: tuple[int, ...]
    people: Landmarks
    again: Landmarks
    clip: Clip

    @property
    def whole(self) -> tuple[DoneRep, ...]:
        """Repetitions that count: full, and seen from start to end."""
        return tuple(r for r in self.reps if r.share >= 0.8 and not r.cut)


def make(seed: int, part: Part = "design", exercise: str | None = None, slips: bool = True) -> MadeSet:
    """The set of a seed; always the same."""
    rng = np.random.default_rng([seed, SEEDS[part]])
    names = sorted(MACHINES)
    machine = MACHINES[exercise or names[seed % len(names)]]
    low, high = LIMBS[part]
    body = Body(*(size * rng.uniform(low, high) for size in vars(Body()).values()))
    profile = PROFILES[part][int(rng.integers(len(PROFILES[part])))]
    if part == "wide":
        machine = machine.varied(rng, MACHINE_DEG)
    script = Script(machine, body, rng, profile)
    way_in, way_out = _one(ways("in", part), rng), _one(ways("out", part), rng)
    between = _one(ways("between", part), rng) if rng.random() < BETWEEN_SHARE else None
    way_in.act(script)
    leaned = _repetitions(script, between, part == "wide")
    way_out.act(script)
    camera = _camera(machine, rng, part)
    spoilt = _slips(rng, part) if slips else ()
    times = tuple((r.start_s, r.end_s) for r in script.reps)
    people, again = landmarks_of(script.finished(), STEP_S, body, camera, machine.limb, times, spoilt, rng)
    return MadeSet(
        machine.name, way_in.name, between.name if between else "", way_out.name, spoilt, camera,
        tuple(script.reps), leaned, people, again, clip_of(people, camera),
    )  # fmt: skip


def _one(among: list, rng: np.random.Generator):  # type: ignore[type-arg,no-untyped-def]
    return among[int(rng.integers(len(among)))]


def _fault(rng: np.random.Generator, share: float) -> tuple[float, float, float, Floats]:
    """One repetition done badly: times its pace, its hold (s), its share of the range, its pose (SIZE,)."""
    pose, pace, hold = np.zeros(SIZE), 1.0, 0.0
    kind = int(rng.integers(9))
    if kind == 0:
        pose[PITCH] = rng.uniform(10, 25) * rng.choice([-1, 1])
    elif kind == 1:
        pose[HIP.start] = rng.uniform(0.04, 0.12)
    elif kind in (2, 3):
        hands = list(HAND.values()) if kind == 2 else [HAND[str(rng.choice(list(HAND)))]]
        pose[[hand.start + 1 for hand in hands]] = rng.uniform(-0.28, 0.15)
    elif kind == 4:
        pose[[hand.start for hand in HAND.values()]] = rng.uniform(-0.2, 0.1)
    elif kind in (5, 6):
        pace = float(rng.uniform(0.4, 0.6) if kind == 5 else rng.uniform(1.5, 2.2))
    elif kind == 7:
        share = share * float(rng.uniform(0.45, 0.75))
    else:
        hold = float(rng.uniform(0.8, 3.0))
    return pace, hold, share, pose


def _repetitions(script: Script, between, wide: bool) -> tuple[int, ...]:  # type: ignore[no-untyped-def]
    """The set itself; in one set of three a repetition, often the last, is made with a leaning trunk."""
    rng, count = script.rng, int(script.rng.integers(5, 12))
    lift, lower = rng.uniform(1.7, 2.6), rng.uniform(1.8, 3.2)
    hold, rest = rng.uniform(0.0, 0.6), rng.uniform(0.1, 0.8)
    lean = int(rng.choice([0, count - 1, rng.integers(count)])) if rng.random() < 0.33 else -1
    pause = int(rng.integers(1, count - 1))
    first = len(script.reps)
    for i in range(count):
        vary = rng.uniform(0.88, 1.12, 4)
        share = float(rng.uniform(0.94, 1.05))
        pitch = float(rng.uniform(14, 22) * rng.choice([-1, 1])) if i == lean else 0.0
        pace, longer, fault = 1.0, 0.0, None
        if wide and rng.random() < FAULT_SHARE:
            pace, longer, share, fault = _fault(rng, share)
        held = hold * vary[1] + longer
        up, down = lift * pace * vary[0], lower * pace * vary[2]
        script.rep(up, held, down, rest * vary[3], share, pitch, fault=fault)
        if between is not None and i == pause:
            between.act(script)
    return (first + lean,) if lean >= 0 else ()


def _camera(machine: Machine, rng: np.random.Generator, part: Part) -> Camera:
    view = machine.views[int(rng.integers(len(machine.views)))] + rng.uniform(*OFF_VIEW[part])
    away, height = rng.uniform(2.5, 3.5), rng.uniform(0.7, 1.2)
    if rng.random() < SMALL_SHARE:
        return Camera(view, rng.uniform(45, 75), LANDSCAPE, away + 1.5, height)
    return Camera(view, rng.uniform(150, 205), away_m=away, height_m=height)


def _slips(rng: np.random.Generator, part: Part) -> tuple[str, ...]:
    names = [name for name, (of, _) in SLIPS.items() if (of == "sealed") == (part == "sealed")]
    return (str(rng.choice(names)),) if rng.random() < SLIP_SHARE else ()


def analysed(made: MadeSet) -> Analysis:
    """What the pipeline makes of it, raw: corrections were not learnt on stick people."""
    seen = Seen(
        clip=made.clip, luma=120.0, sharpness=0.2, survey=made.people,
        subject=find_subject(made.people, made.clip), dense=made.people, model="stick",
    )  # fmt: skip
    exercise, options = find_exercise(made.exercise), Options(raw=True, cleared=True)
    return judge_twice(seen, exercise, options, lambda: made.again)


__all__ = ["MadeSet", "analysed", "make"]
