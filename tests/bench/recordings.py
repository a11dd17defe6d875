"""Command: python -m tests.bench.recordings --out DIR [NAME ...] [--clips DIR] [--find-only].

Composes the recordings of ``recordings.toml``, looks for their sets, and holds what is found against the
truth: sets found and false ones, counts, where they begin and end, whose they are, wall time, memory.
"""

from __future__ import annotations

import argparse
import json
import resource
import shutil
import time
from pathlib import Path

from app.command.recordings import Asked, Watcher, check_recording
from app.jobs.contained import quiet
from sample_clips.recordings import HERE, compose, read_plan
from shared.exercise import find_exercise
from shared.recording import SetPart

PLAN = Path(__file__).with_name("recordings.toml")
WHO = {1: "Mara", 2: "Ilse", 3: "Tove", 4: "Nilo", 5: "Bela"}


def main() -> None:
    """Print a line a recording as it is done, and keep all as JSON lines."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.recordings")
    parser.add_argument("name", nargs="*")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--clips", type=Path, action="append", default=[HERE, HERE / "bench" / "rendered"])
    parser.add_argument("--find-only", action="store_true", help="leave out cutting and checking")
    chosen = parser.parse_args()
    for plan in read_plan(PLAN):
        if chosen.name and plan["name"] not in chosen.name:
            continue
        file = chosen.out / f"{plan['name']}.mp4"
        if not file.exists():
            compose(plan["part"], file, chosen.clips)
        truth = json.loads(file.with_suffix(".truth.json").read_text())
        row = (found_only if chosen.find_only else checked)(file, plan, truth)
        print(json.dumps({"name": plan["name"], **row}), flush=True)
        with (chosen.out / "measured.jsonl").open("a") as kept:
            kept.write(json.dumps({"name": plan["name"], **row}) + "\n")


def found_only(file: Path, plan: dict, truth: dict) -> dict:
    """What the search alone finds: coarse moments, cards, guesses."""
    from vision.recording import find_sets
    from vision.seeing.pose_mediapipe import MediaPipePose

    begun, spent = time.monotonic(), time.process_time()
    found = find_sets(file, MediaPipePose())
    return {
        "true": [(s["start_s"], s["end_s"], s["card"]) for s in truth["sets"]],
        "found": [
            (round(s.start_s, 1), round(s.end_s, 1), s.cut_start_s, s.cut_end_s, s.card, s.fits)
            for s in found.sets
        ],
        "stirred_s": round(found.stirred_s),
        "duration_s": round(found.duration_s),
        "wall_s": round(time.monotonic() - begun),
        "cpu_s": round(time.process_time() - spent),
        "mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
    }


def checked(file: Path, plan: dict, truth: dict) -> dict:
    """The whole way, as the command goes it."""
    out = file.with_suffix("")
    shutil.rmtree(out, ignore_errors=True)
    exercise = plan.get("exercise")
    asked = Asked(None if exercise is None else find_exercise(exercise), WHO)
    begun, before = time.monotonic(), resource.getrusage(resource.RUSAGE_CHILDREN)
    told = check_recording(file, asked, out, quiet, Watcher())
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    pairs, false = matched(truth["sets"], told.sets)
    return {
        "true": len(truth["sets"]),
        "found": len(pairs),
        "false": false,
        "passed_over": [p.why for p in told.passed_over],
        "counts": [(t["count"], s.count) for t, s in pairs],
        "off_s": [(round(s.start_s - t["start_s"], 2), round(s.end_s - t["end_s"], 2)) for t, s in pairs],
        "who": [(t["who"] if t["card"] else None, s.who) for t, s in pairs],
        "machine": sorted({(s.exercise, s.sure) for s in told.sets}),
        "problems": [s.problem for s in told.sets if s.problem],
        "stirred_s": round(told.stirred_s),
        "duration_s": round(told.duration_s),
        "wall_s": round(time.monotonic() - begun),
        "cpu_s": round(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime),
        "mb": after.ru_maxrss // 1024,
    }


def matched(true: list[dict], found: list[SetPart]) -> tuple[list[tuple[dict, SetPart]], int]:
    """Each true set with the first found one that overlaps it by half, and how many found ones are left."""
    left, pairs = list(found), []
    for truth in true:
        for one in left:
            both = min(one.end_s, truth["end_s"]) - max(one.start_s, truth["start_s"])
            if both > 0.5 * (truth["end_s"] - truth["start_s"]):
                pairs.append((truth, one))
                left.remove(one)
                break
    return pairs, len(left)


if __name__ == "__main__":
    main()
