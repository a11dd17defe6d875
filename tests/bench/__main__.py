"""Command: python -m tests.bench [--part validate|tune|all] [--short] [--jobs N] [--raw] [--tolerate FILE].

Measures how far the tool lies from the truth of the bench's rendered clips and prints one table.
Clips are rendered by ``python -m sample_clips.rendering`` first (``make bench`` does both); what
looking at a clip gave is cached, so only changed clips, models or looking code cost time again. A target
that is missed (``targets.py``), and not known to be, is told at the end and makes the exit code 1.
"""

from __future__ import annotations

import argparse
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

from rich.console import Console
from rich.progress import track as progress

from sample_clips.measure import Row, measure_clip
from sample_clips.rendered import bench_clips
from tests.bench.broken import WAYS, spoilt
from tests.bench.table import as_json, as_text, by, figures
from tests.bench.targets import missed, read_misses


def main(arguments: list[str] | None = None) -> int:
    """Run the bench; exit code 1 when a target is missed, or when there is no rendered clip."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--part", choices=("validate", "tune", "all"), default="validate")
    parser.add_argument("--short", action="store_true", help="21 clips only")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--raw", action="store_true", help="leave out learnt corrections")
    parser.add_argument("--thorough", action="store_true", help="look twice at every clip")
    parser.add_argument("--model", type=Path, help="another landmark model")
    parser.add_argument("--broken", choices=sorted(WAYS), help="spoil the landmarks: the table must show it")
    parser.add_argument("--tolerate", type=Path, help="TOML file of the misses that are known, with reasons")
    parser.add_argument("--json", type=Path, help="write the figures here as well")
    parser.add_argument("--by", choices=("exercise", "condition"), help="also a table for each")
    chosen = parser.parse_args(arguments)
    known = read_misses(chosen.tolerate) if chosen.tolerate else {}
    clips = bench_clips(chosen.part, chosen.short)
    if not clips:
        print("No rendered bench clip was found; run make bench, which renders them first.", file=sys.stderr)
        return 1
    rows = measured(clips, chosen)
    whole = figures(rows)
    print(as_text(whole))
    for name, group in _groups(rows, chosen.by).items():
        print(f"\n## {name}\n\n{as_text(group)}")
    if chosen.json:
        everything = {
            "clips": len(clips),
            "figures": as_json(whole),
            "by_exercise": {k: as_json(v) for k, v in _groups(rows, "exercise").items()},
            "by_condition": {k: as_json(v) for k, v in _groups(rows, "condition").items()},
        }
        chosen.json.write_text(json.dumps(everything, indent=1) + "\n")
    new, old = missed({f.name: f.value for f in whole if f.n}, known)
    print(
        *(f"known: {line}" for line in old), *(f"MISSED: {line}" for line in new), sep="\n", file=sys.stderr
    )
    return 1 if new else 0


def measured(clips: list[Path], chosen: argparse.Namespace) -> list[Row]:
    """The rows of all clips, some at a time."""
    work = partial(
        measure_clip,
        raw=chosen.raw,
        thorough=chosen.thorough,
        model=chosen.model,
        spoil=partial(spoilt, way=chosen.broken) if chosen.broken else None,
    )
    with ProcessPoolExecutor(chosen.jobs) as pool:
        found = list(progress(pool.map(work, clips), "Measuring", len(clips), console=Console(stderr=True)))
    return [row for part in found for row in part]


def _groups(rows: list[Row], key: str | None) -> dict:
    if key == "exercise":
        return by(rows, lambda r: r["exercise"])
    if key == "condition":
        spread = [{**r, "condition": c} for r in rows for c in r["conditions"] or ["plain"]]
        return by(spread, lambda r: r["condition"])
    return {}


if __name__ == "__main__":
    sys.exit(main())
