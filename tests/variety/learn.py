"""Command: python -m tests.variety.learn [--sets N]. Learns what tells a stranger among a set's movements.

By a logistic regression over the sets of the design and the wide part, nothing of the sealed one, and over
the sample clips, so that bad repetitions on real landmarks of rendered people are known too. Writes
vision/data/strangers.json, and prints how many it tells wrongly in sets that it did not learn from.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from unittest import mock

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit

from sample_clips.rendered import truth_of
from shared.domain import Floats, RepSet, Track
from shared.exercise import find_exercise
from tests.samples import NAMES, clip_of, looked
from tests.variety.score import done_of
from tests.variety.script import DoneRep
from tests.variety.sets import analysed, make
from tests.variety.ways import Part
from vision.judging.options import Options
from vision.measuring.reps.strangers import STRANGE, WEIGHTS, features
from vision.pipeline import judge_seen

#: Features of the movements of a set, each (R,), and which of them are strangers, (R,) bool.
Rows = tuple[dict[str, Floats], np.ndarray]
#: Parts of the sets, of which each is told by what was learnt from the others.
FOLDS = 6
#: How strongly weights are drawn to nothing.
RIDGE = 1.0


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.variety.learn", description=__doc__)
    parser.add_argument("--sets", type=int, default=350, help="of each part")
    parser.add_argument("--jobs", type=int, default=2)
    chosen = parser.parse_args(arguments)
    wanted: list[tuple[int, Part]] = [(s, part) for part in ("design", "wide") for s in range(chosen.sets)]
    with ProcessPoolExecutor(chosen.jobs) as pool:
        found = [*pool.map(_rows, wanted, chunksize=8), *pool.map(_sample, NAMES)]
    sets = [rows for rows in found if rows is not None]
    names = list(sets[0][0])
    x = np.concatenate([np.column_stack(list(found.values())) for found, _ in sets])
    strange = np.concatenate([odd for _, odd in sets])
    of = np.concatenate([np.full(len(odd), i) for i, (_, odd) in enumerate(sets)])
    told = np.zeros(len(x), dtype=bool)
    for fold in range(FOLDS):
        out = of % FOLDS == fold
        told[out] = _probability(x[out], learnt(x[~out], strange[~out])) > STRANGE
    wrong, odd = (len(sets) - len(set(of[rows])) for rows in (told != strange, strange))
    lines = (
        f"{len(x)} movements of {len(sets)} sets, {strange.sum()} of them strangers",
        f"strangers left in: {(strange & ~told).sum()}, repetitions left out: {(told & ~strange).sum()}",
        f"sets told whole: {wrong} of {len(sets)}; as they were: {odd}",
    )
    sys.stdout.write("\n".join(lines) + "\n")
    weights = {
        name: round(float(weight), 3)
        for name, weight in zip(["base", *names], learnt(x, strange), strict=True)
    }
    WEIGHTS.write_text(json.dumps(weights, indent=1) + "\n", encoding="utf-8")
    return 0


def learnt(x: Floats, strange: np.ndarray) -> Floats:
    """Base and weights (1 + F,) of a ridge logistic regression on rows (N, F)."""
    middle, spread = x.mean(axis=0), np.maximum(x.std(axis=0), 1e-6)
    rows = np.column_stack([np.ones(len(x)), (x - middle) / spread])
    sign = np.where(strange, 1.0, -1.0)

    def cost(w: Floats) -> tuple[float, Floats]:
        margin = sign * (rows @ w)
        pull = np.concatenate([[0.0], w[1:]])
        slope = -(sign * expit(-margin)) @ rows + RIDGE * pull
        return float(np.logaddexp(0.0, -margin).sum() + RIDGE * pull @ pull / 2), slope

    found = minimize(cost, np.zeros(rows.shape[1]), jac=True, method="L-BFGS-B").x
    weights = found[1:] / spread
    return np.concatenate([[found[0] - weights @ middle], weights])


def _probability(x: Floats, learnt: Floats) -> Floats:
    return np.asarray(expit(learnt[0] + x @ learnt[1:]))


def _rows(which: tuple[int, Part]) -> Rows | None:
    """Features of all movements of a made set, and which are strangers; None when no set was found."""
    made = make(*which)
    return _seen(lambda: analysed(made), made.reps)


def _sample(name: str) -> Rows | None:
    """Likewise of a sample clip, from its recorded look."""
    truth = truth_of(clip_of(name))
    done = [
        DoneRep(*(rep[key] for key in ("start_s", "turn_s", "lower_start_s", "end_s")))
        for rep in truth["reps"]
    ]
    return _seen(
        lambda: judge_seen(looked(name)[0], find_exercise(truth["exercise"]), Options(cleared=True)), done
    )


def _seen(analyse: Callable[[], object], done: Sequence[DoneRep]) -> Rows | None:
    seen: list[Rows] = []

    def kept(track: Track, reps: RepSet, ends: tuple[str, ...]) -> RepSet:
        strange = [done_of(rep.start_s, rep.end_s, done) is None for rep in reps.reps]
        seen.append((features(track, reps, ends), np.array(strange)))
        return reps

    with mock.patch("vision.measuring.reps.find_set.without_strangers", kept):
        analyse()
    return seen[-1] if seen else None


if __name__ == "__main__":
    raise SystemExit(main())
