"""Command: python -m sample_clips.rendering SCENARIO.toml [more...] --out DIR [--jobs N]."""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from sample_clips.rendering.job import is_fresh, refresh_truth, render
from sample_clips.rendering.scenario import ScenarioError, load_scenario


def main(arguments=None):
    """Render the scenarios named; exit code 2 for a scenario that cannot be used."""
    parser = argparse.ArgumentParser(
        prog="python -m sample_clips.rendering", description="Render sets with exact truth."
    )
    parser.add_argument("scenario", nargs="+", type=Path, help="scenario TOML files or folders of them")
    parser.add_argument("--out", required=True, type=Path, help="folder for the clips and truth files")
    parser.add_argument("--jobs", type=int, default=1, help="processes side by side")
    parser.add_argument("--force", action="store_true", help="render again what is up to date")
    parser.add_argument(
        "--truth-only", action="store_true", help="write the truth JSON of rendered clips anew, no frames"
    )
    chosen = parser.parse_args(arguments)
    try:
        scenarios = [load_scenario(path) for path in _files(chosen.scenario)]
    except ScenarioError as error:
        print(error, file=sys.stderr)
        return 2
    work = refresh_truth if chosen.truth_only else render
    todo = [s for s in scenarios if chosen.force or chosen.truth_only or not is_fresh(s, chosen.out)]
    print(f"{len(scenarios)} scenarios, {len(scenarios) - len(todo)} up to date")
    begun = time.monotonic()
    if chosen.jobs > 1 and len(todo) > 1:
        with ProcessPoolExecutor(chosen.jobs) as pool:
            finished = pool.map(work, todo, [chosen.out] * len(todo))
            _report(finished, len(todo), begun)
    else:
        _report((work(s, chosen.out) for s in todo), len(todo), begun)
    return 0


def _files(paths):
    for path in paths:
        yield from sorted(path.rglob("*.toml")) if path.is_dir() else [path]


def _report(finished, total, begun):
    for done, (clip, *_) in enumerate(finished, 1):
        spent = time.monotonic() - begun
        left = spent / done * (total - done)
        print(
            f"[{done}/{total}] {clip.name}  {clip.stat().st_size / 1e6:.2f} MB  {left:.0f} s left", flush=True
        )


if __name__ == "__main__":
    sys.exit(main())
