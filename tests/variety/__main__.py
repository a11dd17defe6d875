"""Command: python -m tests.variety [--part P] [--sets N] [--first SEED] [--jobs N] [--plain] [--each].

Judges made sets and prints one table; an opening of the sealed part is written into docs/accuracy.md.
--plain leaves slips out; --each prints every set that is not perfect.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from functools import partial

from tests.variety.openings import record
from tests.variety.score import Score, score, table
from tests.variety.sets import MadeSet, analysed, make
from tests.variety.ways import Part


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.variety", description=__doc__)
    parser.add_argument("--part", choices=("design", "wide", "sealed"), default="design")
    parser.add_argument("--sets", type=int, default=210)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--plain", action="store_true")
    parser.add_argument("--each", action="store_true")
    chosen = parser.parse_args(arguments)
    work = partial(one, part=chosen.part, slips=not chosen.plain)
    with ProcessPoolExecutor(chosen.jobs) as pool:
        found = list(pool.map(work, range(chosen.first, chosen.first + chosen.sets), chunksize=4))
    figures = table([s for s, _ in found])
    if chosen.part == "sealed":
        record(figures)
    for name, figure in figures.items():
        print(f"{name:28s}{figure}")
    print("\nsets that are not perfect, by what they hold")
    for name, (bad, of) in sorted(_by_way(found).items()):
        print(f"{name:34s}{bad:4d} of {of}")
    if chosen.each:
        for s, words in found:
            if not _perfect(s):
                print(words)
    return 0


def one(seed: int, part: Part, slips: bool) -> tuple[Score, str]:
    """Score and description of the set of a seed."""
    made = make(seed, part, slips=slips)
    s = score(made, analysed(made))
    words = f"{seed} {' | '.join(held(made))} | {len(made.whole)} made, off {s.off}, outside {s.outside}"
    return s, f"{words} ({s.outside_flags} flags), missed {s.missed}, false {s.which}, told {s.told}"


def held(made: MadeSet) -> list[str]:
    """Everything a set was made of, in words."""
    small = ["small"] if made.camera.trunk_px < 100 else []
    between = [f"between: {made.between}"] if made.between else []
    return [made.exercise, f"in: {made.way_in}", *between, f"out: {made.way_out}", *made.slips, *small]


def _perfect(s: Score) -> bool:
    return not (s.refused or s.off or s.outside or s.missed or s.false_flags or s.told is False)


def _by_way(found: list[tuple[Score, str]]) -> dict[str, tuple[int, int]]:
    out: dict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for s, words in found:
        for name in words.split(" ", 1)[1].split(" | ")[:-1]:
            bad, of = out[name]
            out[name] = bad + (not _perfect(s)), of + 1
    return out


if __name__ == "__main__":
    raise SystemExit(main())
