"""Whole sets drawn by a seed: a person, a camera, a machine, a way in, repetitions, a way out, slips."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from shared.domain import Clip, Landmarks
from shared.exercise import find_exercise
from tests.variety.body import Body
from tests.variety.looks import LANDSCAPE, SLIPS, Camera, clip_of, landmarks_of
from tests.variety.machines import MACHINES, Machine
from tests.variety.script import STEP_S, DoneRep, Script
from tests.variety.ways import Part, ways
from vision.judging.options import Options
from vision.pipeline import judge_seen
from vision.seeing.look import Seen
from vision.seeing.subject import find_subject
from vision.telling.analysis import Analysis

#: Degrees a camera stands off its view, and how long trunks are over arms and legs, by part.
OFF_VIEW = {"design": (-14.0, 14.0), "sealed": (-22.0, 22.0)}
LIMBS = {"design": (0.94, 1.06), "sealed": (0.88, 1.12)}
PROFILES = {"design": ((2.0, 2.0), (1.6, 2.1), (3.0, 3.0)), "sealed": ((1.3, 1.6), (2.6, 1.7), (1.5, 3.0))}
#: A leg machine's limb is not where hands go; some ways then say nothing of the drive, and are kept all the
#: same.
SLIP_SHARE, SMALL_SHARE, BETWEEN_SHARE = 0.5, 0.15, 0.3


@dataclass(frozen=True)
class MadeSet:
    """One set and what was done in it."""

    exercise: str
    way_in: str
    between: str
    way_out: str
    slips: tuple[str, ...]
    camera: Camera
    reps: tuple[DoneRep, ...]
    leaned: tuple[int, ...]
    people: Landmarks
    clip: Clip

    @property
    def whole(self) -> tuple[DoneRep, ...]:
        """Repetitions that count: full, and seen from start to end."""
        return tuple(r for r in self.reps if r.share >= 0.8 and not r.cut)


def make(seed: int, part: Part = "design", exercise: str | None = None, slips: bool = True) -> MadeSet:
    """The set of a seed; always the same."""
    rng = np.random.default_rng([seed, part == "sealed"])
    names = sorted(MACHINES)
    machine = MACHINES[exercise or names[seed % len(names)]]
    low, high = LIMBS[part]
    body = Body(*(size * rng.uniform(low, high) for size in vars(Body()).values()))
    profile = PROFILES[part][int(rng.integers(len(PROFILES[part])))]
    script = Script(machine, body, rng, profile)
    way_in, way_out = _one(ways("in", part), rng), _one(ways("out", part), rng)
    between = _one(ways("between", part), rng) if rng.random() < BETWEEN_SHARE else None
    way_in.act(script)
    leaned = _repetitions(script, between)
    way_out.act(script)
    camera = _camera(machine, rng, part)
    spoilt = _slips(rng, part) if slips else ()
    times = tuple((r.start_s, r.end_s) for r in script.reps)
    people = landmarks_of(script.finished(), STEP_S, body, camera, machine.limb, times, spoilt, rng)
    return MadeSet(
        machine.name, way_in.name, between.name if between else "", way_out.name, spoilt, camera,
        tuple(script.reps), leaned, people, clip_of(people, camera),
    )  # fmt: skip


def _one(among: list, rng: np.random.Generator):  # type: ignore[type-arg,no-untyped-def]
    return among[int(rng.integers(len(among)))]


def _repetitions(script: Script, between) -> tuple[int, ...]:  # type: ignore[no-untyped-def]
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
        script.rep(lift * vary[0], hold * vary[1], lower * vary[2], rest * vary[3], share, pitch)
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
    names = [name for name, (of, _) in SLIPS.items() if of == part]
    return (str(rng.choice(names)),) if rng.random() < SLIP_SHARE else ()


def analysed(made: MadeSet) -> Analysis:
    """What the pipeline makes of it, raw: corrections were not learnt on stick people."""
    survey = _every_second(made.people)
    seen = Seen(
        clip=made.clip, luma=120.0, sharpness=0.2, survey=survey, subject=find_subject(survey, made.clip),
        dense=made.people, model="stick",
    )  # fmt: skip
    return judge_seen(seen, find_exercise(made.exercise), Options(raw=True, cleared=True))


def _every_second(people: Landmarks) -> Landmarks:
    """The survey: half as many looks."""
    return Landmarks(model=people.model, **{f.name: getattr(people, f.name)[::2] for f in _ARRAYS})


_ARRAYS = [f for f in fields(Landmarks) if f.name != "model"]
__all__ = ["MadeSet", "analysed", "make"]
