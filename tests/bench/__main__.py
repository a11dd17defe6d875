"""Command: python -m tests.bench [--part validate|tune|all] [--short] [--jobs N] [--raw] [--json FILE].

Measures how far the tool lies from the truth of the bench's rendered clips and prints one table.
Clips are rendered by ``python -m sample_clips.rendering`` first (``make bench`` does both); what
looking at a clip gave is cached, so only changed clips, models or looking code cost time again.
"""

from __future__ import annotations

import argparse
import json
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path

from rich.console import Console
from rich.progress import track as progress

from shared.domain import Landmarks
from shared.exercise import find_exercise
from tests.bench.broken import WAYS, spoilt
from tests.bench.measure import Row, measure
from tests.bench.replay import seen_again_cached, seen_cached, truth_arrays
from tests.bench.table import as_json, as_text, by, figures
from vision.analysis import Options
from vision.pipeline import judge_twice
from vision.pose_mediapipe import MediaPipePose

RENDERED = Path(__file__).parents[2] / "sample_clips" / "bench" / "rendered"
CACHE = RENDERED / "seen"


def bench_clips(part: str, short: bool) -> list[Path]:
    """Rendered clips of one part, or of all, sorted; with short, the three an exercise that say so."""
    out = []
    for truth_file in sorted(RENDERED.glob("*.truth.json")):
        truth = json.loads(truth_file.read_text())
        if part in ("all", truth["part"]) and (truth["short"] or not short):
            out.append(clip_of(truth_file))
    return out


def clip_of(truth_file: Path) -> Path:
    """The clip beside a truth file."""
    return truth_file.with_name(truth_file.name.replace(".truth.json", ".mp4"))


def truth_of(clip: Path) -> dict:
    """The truth beside a clip."""
    return json.loads(clip.with_name(f"{clip.stem}.truth.json").read_text())


def measure_clip(
    clip: Path,
    raw: bool = False,
    thorough: bool = False,
    model: Path | None = None,
    broken: str | None = None,
) -> list[Row]:
    """Look (cached), judge, and hold against the truth; broken: one of ``tests.bench.broken.WAYS``."""
    truth = truth_of(clip)
    pose = MediaPipePose(model)
    whole = seen_cached(clip, pose, CACHE)
    seen = spoilt(whole, broken) if broken else whole

    def again() -> Landmarks:
        second = replace(whole, dense=seen_again_cached(clip, pose, CACHE, whole))
        dense = (spoilt(second, broken) if broken else second).dense
        assert dense is not None
        return dense

    exercise = find_exercise(truth["run_as"] or truth["exercise"])
    analysis = judge_twice(seen, exercise, Options(raw=raw, cleared=True, thorough=thorough), again)
    return measure(analysis, truth, truth_arrays(clip.with_name(f"{clip.stem}.truth.npz")))


def main(arguments: list[str] | None = None) -> int:
    """Run the bench; exit code 1 when there is no rendered clip."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--part", choices=("validate", "tune", "all"), default="validate")
    parser.add_argument("--short", action="store_true", help="21 clips only")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--raw", action="store_true", help="leave out learnt corrections")
    parser.add_argument("--thorough", action="store_true", help="look twice at every clip")
    parser.add_argument("--model", type=Path, help="another landmark model")
    parser.add_argument("--broken", choices=sorted(WAYS), help="spoil the landmarks: the table must show it")
    parser.add_argument("--json", type=Path, help="write the figures here as well")
    parser.add_argument("--by", choices=("exercise", "condition"), help="also a table for each")
    chosen = parser.parse_args(arguments)
    clips = bench_clips(chosen.part, chosen.short)
    if not clips:
        print("No rendered bench clip was found; run make bench, which renders them first.", file=sys.stderr)
        return 1
    work = partial(
        measure_clip, raw=chosen.raw, thorough=chosen.thorough, model=chosen.model, broken=chosen.broken
    )
    with ProcessPoolExecutor(chosen.jobs) as pool:
        found = list(progress(pool.map(work, clips), "Measuring", len(clips), console=Console(stderr=True)))
    rows = [row for part in found for row in part]
    print(as_text(figures(rows)))
    groups = _groups(rows, chosen.by)
    for name, group in groups.items():
        print(f"\n## {name}\n\n{as_text(group)}")
    if chosen.json:
        everything = {
            "clips": len(clips),
            "figures": as_json(figures(rows)),
            "by_exercise": {k: as_json(v) for k, v in _groups(rows, "exercise").items()},
            "by_condition": {k: as_json(v) for k, v in _groups(rows, "condition").items()},
        }
        chosen.json.write_text(json.dumps(everything, indent=1) + "\n")
    return 0


def _groups(rows: list[Row], key: str | None) -> dict:
    if key == "exercise":
        return by(rows, lambda r: r["exercise"])
    if key == "condition":
        spread = [{**r, "condition": c} for r in rows for c in r["conditions"] or ["plain"]]
        return by(spread, lambda r: r["condition"])
    return {}


if __name__ == "__main__":
    sys.exit(main())
