"""Command: python -m sample_clips.learning.course CLIP.mp4 ...: writes how sure changes of posture are.

From rendered clips of the tuning part, by the mean of two looks as flags are judged: by which share the
landmarks follow a change that is really there, by kind of signal and exercise, and within which error nine
in ten changes lie with the shares that stand there now.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sample_clips.learning.conformal import half_width
from sample_clips.learning.drive import looks_at
from sample_clips.learning.learnt_file import update
from sample_clips.measure import match, true_value
from sample_clips.rendered import truth_of
from shared.exercise import CheckSpec, find_exercise
from vision.judging.check import Context
from vision.judging.checks.course import CourseParams, departures, largest
from vision.judging.options import Options
from vision.measuring.learnt.data import load_learnt
from vision.pipeline import judge_seen

MEASURES = ("course_change", "course_value", "arching")
#: A true change of this share of the check's largest says how well the landmarks follow it.
CLEAR_SHARE = 0.5


@dataclass(frozen=True)
class Change:
    """One repetition's change as the landmarks show it and as it truly is, in degrees or trunk lengths."""

    kind: str
    exercise: str
    check: str
    clip: str
    rep: int
    shown: float
    true: float


def context_of(clip: Path, truth: dict[str, Any]) -> Context | None:
    """What checks see of a clip looked at twice; None where it is not judged or far off its view."""
    if not truth["fit"] or "yaw30" in truth["conditions"]:
        return None
    exercise = find_exercise(truth["exercise"])
    found = judge_seen(looks_at(clip)[-1], exercise, Options(cleared=True))
    if found.track is None or found.reps is None or not found.report.quality.usable:
        return None
    return Context(found.track, found.signals, found.reps, exercise)


def changes(clip: Path) -> list[Change]:
    """Every change of one clip that a check measures against the first repetitions."""
    truth = truth_of(clip)
    if truth["part"] == "validate":
        raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
    ctx = context_of(clip, truth)
    specs = [s for s in ctx.exercise.checks if s.measure in MEASURES] if ctx else []
    return [change for spec in specs if ctx for change in _changes(ctx, spec, truth)]


def _changes(ctx: Context, spec: CheckSpec, truth: dict[str, Any]) -> Iterator[Change]:
    name, params = spec.signal or "", spec.params
    if ctx.signals[name].unjudgeable or (spec.id == "elbow-bend" and truth["arm_pads"]):
        return
    true_of = {rep.number: row for rep, row in match(ctx.reps.reps, truth["reps"])}
    per = 1.0 if spec.unit == "deg" else truth["body"]["trunk_cm"]
    sign = -1.0 if params["direction"] == "down" else 1.0
    course = CourseParams.model_validate({k: v for k, v in params.items() if k in CourseParams.model_fields})
    for rep, part in departures(ctx, spec, name, course, own_half=spec.measure == "course_value"):
        true = true_value(spec, true_of.get(rep.number), ctx.exercise.name, truth["body"]["stature_cm"])
        found = largest(part, params["direction"])
        if true is None or found is None:
            continue
        if "usual" in params:
            true = sign * (true - params["usual"])
        kind = ctx.exercise.signals[name].kind
        yield Change(kind, ctx.exercise.name, spec.id, truth["name"], rep.number, found[0], true / per)


def half_of(group: list[Change], share: float) -> float:
    """The half-width of what landmarks that follow by that share leave unknown."""
    errors = defaultdict(list)
    for change in group:
        if change.true >= 0.0:  # what goes the other way is another check's
            errors[change.clip].append(change.shown / share - change.true)
    return half_width([np.array(e) for e in errors.values()])


def said(group: list[Change], share: float) -> str:
    """The share by which the landmarks follow, with its spread, and the half-width."""
    most = max(change.true for change in group)
    clear = [c for c in group if c.true >= CLEAR_SHARE * most > 0.0]
    found = f"half-width {half_of(group, share):.3f} ({_clips(group)} clips), following {share:.2f}"
    if not clear:
        return found
    low, middle, high = np.percentile([c.shown / c.true for c in clear], [20, 50, 80])
    spread = f"{low:.2f} to {high:.2f}; {len(clear)} in {len({c.clip for c in clear})} clips"
    return f"{found}; follows {middle:.2f} ({spread})"


def _clips(group: list[Change]) -> int:
    return len({change.clip for change in group})


def write(groups: dict[tuple[str, str, str], list[Change]], exercise: str) -> None:
    """The widest half-width of each kind of signal into the exercise's file; a person sets the shares."""
    known = load_learnt(exercise).change
    kinds: dict[str, dict[str, float]] = {}
    for (kind, _, of), group in groups.items():
        if of == exercise and kind in known:
            wide = round(half_of(group, known[kind].follows), 3)
            widest = max(wide, kinds.get(kind, {}).get("half_width", 0.0))
            kinds[kind] = {"half_width": widest, "follows": known[kind].follows}
    clips = {c.clip for (_, _, of), group in groups.items() if of == exercise for c in group}
    update(exercise, "change", kinds, f"{len(clips)} tuning clips")


def main() -> None:
    """Print a line for each check and exercise, and write the half-widths."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.course", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips of the tuning part")
    groups: dict[tuple[str, str, str], list[Change]] = defaultdict(list)
    with ProcessPoolExecutor(2) as pool:
        for found in pool.map(changes, parser.parse_args().clips):
            for change in found:
                groups[change.kind, change.check, change.exercise].append(change)
    for (kind, check, exercise), group in sorted(groups.items()):
        share = known.follows if (known := load_learnt(exercise).change.get(kind)) else 1.0
        print(f"{kind} {check} {exercise}: {said(group, share)}")
    for exercise in sorted({exercise for _, _, exercise in groups}):
        write(groups, exercise)


if __name__ == "__main__":
    main()
