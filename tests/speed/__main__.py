"""How fast, and in how much memory: ``make bench-speed``. Measures, is no test.

Runs plain loops over every frame and ours in turns, so that a busy moment of the machine hits both,
and prints the ratio of each round's times: middle, lowest, highest.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from app.reading.failures import EXIT_UNFIT
from shared.domain import Landmarks
from shared.exercise import find_exercise
from tests.cluster import cluster_of
from tests.speed.clips import FLAGGED, SAMPLE, made, repeated
from tests.speed.measure import Cost, machine, run
from vision.judging.options import Options
from vision.pipeline import judge_seen
from vision.seeing.clip import open_clip
from vision.seeing.look import Seen, landmark_step_s, look
from vision.seeing.pose_mediapipe import DEFAULT_MODEL, SURVEY_MODEL, MediaPipePose
from vision.seeing.subject import SURVEY_STEP_S

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "result" / "speed"
CLIPS = ((1080, 30), (1080, 60), (720, 30))
SECONDS = 45.0
#: Most of a plain loop's time that ours may take, by clip: with the heavy model, with the full one.
TARGETS = {(1080, 30): (0.20, 0.75), (1080, 60): (0.10, 0.38), (720, 30): (0.20, 0.75)}
PARTS = ("ratios", "second-look", "floors", "start", "memory", "batches", "judging")
PLUMBSET = (str(Path(sys.executable).with_name("plumbset")),)


def check(clip: Path, memory: bool = False) -> Cost:
    """Our command on a clip, start-up included."""
    with tempfile.TemporaryDirectory() as out:
        command = [*PLUMBSET, "check", str(clip)]
        command += ["--exercise", "leg-extension", "--out", f"{out}/report", "--progress", "json"]
        return run(command, memory, expect=(0, EXIT_UNFIT), words='"first"')


def plain(clip: Path, model: Path) -> Cost:
    """The plain loop on a clip, start-up included."""
    return run([sys.executable, "-m", "tests.speed.plain", str(clip), str(model)])


def ratios(rounds: int) -> dict:
    """Ours against both plain loops, in turns, a row a clip."""
    rows = {}
    for height, rate in CLIPS:
        clip = made(FOLDER, SECONDS, height, rate)
        times: dict[str, list[Cost]] = {"ours": [], "heavy": [], "full": []}
        for _ in range(rounds):
            times["heavy"].append(plain(clip, DEFAULT_MODEL))
            times["ours"].append(check(clip))
            times["full"].append(plain(clip, SURVEY_MODEL))
        name = f"{height}p {rate} fps"
        rows[name] = {k: statistics.median(c.wall_s for c in v) for k, v in times.items()}
        rows[name]["ours_cpu"] = statistics.median(c.cpu_s for c in times["ours"])
        rows[name]["first_words"] = statistics.median(c.words_s for c in times["ours"])
        for model, most in zip(("heavy", "full"), TARGETS[height, rate], strict=True):
            each = [a.wall_s / b.wall_s for a, b in zip(times["ours"], times[model], strict=True)]
            rows[name][f"of_{model}"] = [statistics.median(each), min(each), max(each), most]
        _tell(name, rows[name])
    return rows


def _tell(name: str, row: dict) -> None:
    print(f"{name}: ours {row['ours']:.1f} s (processor {row['ours_cpu']:.1f} s, ", end="")
    print(f"first words after {row['first_words']:.1f} s)", end="")
    for model in ("heavy", "full"):
        middle, low, high, most = row[f"of_{model}"]
        print(
            f"; {model} {row[model]:.1f} s, ratio {middle:.2f} ({low:.2f} to {high:.2f}, aim {most})", end=""
        )
    print(flush=True)


def second_look(rounds: int) -> dict:
    """Seconds for a set without flags and for one with, which is looked at again."""
    clean, flagged = (made(FOLDER, SECONDS, 1080, 30, sample) for sample in (SAMPLE, FLAGGED))
    times = [(check(clean).wall_s, check(flagged).wall_s) for _ in range(rounds)]
    return dict(zip(("without_flags_s", "with_flags_s"), np.median(times, axis=0).tolist(), strict=True))


def floors() -> dict:
    """Where a clip's time cannot go below: every picture decoded once (no colours), and the looks."""
    clip = made(FOLDER, SECONDS, 1080, 30)
    source, pose = open_clip(clip), MediaPipePose()
    decode = _timed(lambda: sum(1 for _ in source.frames(gray=True)))
    whole = (0, 0, source.clip.width, source.clip.height)
    few = [f for f in source.frames(end_s=6.0, min_step_s=landmark_step_s(source.clip))]
    heavy = _timed(lambda: pose.follow(iter(few), whole)) / len(few)
    survey = [f for f in source.frames(end_s=6.0, min_step_s=SURVEY_STEP_S)]
    rows: list[int] = []
    light = _timed(lambda: rows.append(len(pose.survey(iter(survey), 1).frame))) / rows[0]
    seen: list[Seen] = []
    looking = _timed(lambda: seen.append(look(open_clip(clip), pose)))
    judging = _timed(lambda: judge_seen(seen[0], find_exercise("leg-extension"), Options()))
    dense, rough = seen[0].dense, seen[0].survey
    looks = (0 if dense is None else len(dense.frame)) * heavy + len(rough.frame) * light
    return {
        "decode_once_s": decode,
        "heavy_look_ms": 1000 * heavy,
        "survey_look_ms": 1000 * light,
        "looking_s": looking,
        "judging_s": judging,
        "floor_on_both_cores_s": (looks + decode) / 2,
    }


def start_up() -> dict:
    """Fastest of five, in s."""
    commands = {
        "help": [*PLUMBSET, "--help"],
        "exercises": [*PLUMBSET, "exercises"],
        "landmark library": [
            sys.executable,
            "-c",
            "import mediapipe.tasks.python.vision, cv2, av, scipy.signal",
        ],
    }
    return {name: min(run(c).wall_s for _ in range(5)) for name, c in commands.items()}


def memory(minutes: list[int]) -> dict:
    """Highest proportional set size of a check, by the clip's length."""
    out = {}
    for n in minutes:
        clip = made(FOLDER, 60.0, 720, 30)
        cost = check(repeated(clip, n) if n > 1 else clip, memory=True)
        out[str(n)] = {"pss_mb": cost.pss_mb, "wall_s": cost.wall_s}
        print(f"{n} min: {cost.pss_mb:.0f} MB, {cost.wall_s:.0f} s", flush=True)
    return out


def batches(clips: int = 4) -> dict:
    """Seconds for some clips: one worker held to one core, a worker a core, and a cluster of as many."""
    with tempfile.TemporaryDirectory() as made_here:
        folder = Path(made_here)
        source = made(FOLDER, SECONDS, 720, 30)
        for i in range(clips):
            shutil.copy(source, folder / f"set-{i + 1}.mp4")
        cores = os.cpu_count() or 1

        def batch(name: str, *options: str, before: tuple[str, ...] = ()) -> float:
            command = [*before, *PLUMBSET, "batch", str(folder), "--exercise", "leg-extension"]
            command += ["--out", str(folder / name), *options]
            return run(command, expect=(0, EXIT_UNFIT)).wall_s

        one = batch("one", "--jobs", "1", before=("taskset", "--cpu-list", "0"))
        both = batch("local", "--jobs", str(cores))
        with cluster_of(cores, folder / "workers") as address:
            afar = batch("afar", "--scheduler", address)
        return {
            "clips": clips,
            "one_worker_on_one_core_s": one,
            f"{cores}_workers_s": both,
            "times_the_throughput": one / both,
            "cluster_s": afar,
            "cluster_over_local": afar / both,
        }


def judging(minutes: float = 10.0, rate: float = 30.0) -> float:
    """Seconds from a track of this length at this rate to its report; movement repeated from a sample."""
    seen = look(open_clip(SAMPLE), MediaPipePose())
    if seen.dense is None:
        raise RuntimeError("nobody found in the sample clip")
    times = np.arange(0, 60 * minutes, 1 / rate)
    long = replace(
        seen,
        clip=replace(seen.clip, duration_s=60 * minutes, frames=len(times), fps_mean=rate),
        survey=_stretched(seen.survey, times[:: max(1, round(rate * SURVEY_STEP_S))]),
        dense=_stretched(seen.dense, times),
    )
    exercise = find_exercise("leg-extension")
    return min(_timed(lambda: judge_seen(long, exercise, Options())) for _ in range(3))


def _stretched(looks: Landmarks, times: np.ndarray) -> Landmarks:
    """Landmarks to and fro over ``times``, (T,) s, taken from the nearest look."""
    length = float(looks.time_s[-1])
    back_and_forth = length - np.abs(times % (2 * length) - length)
    at = np.clip(np.searchsorted(looks.time_s, back_and_forth), 0, len(looks.time_s) - 1)
    return Landmarks(
        frame=np.arange(len(times)), time_s=times, image_px=looks.image_px[at], world_m=looks.world_m[at],
        visibility=looks.visibility[at], presence=looks.presence[at], model=looks.model,
    )  # fmt: skip


def _timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def main() -> int:
    """Measure what was asked for, print it, write it."""
    parser = argparse.ArgumentParser(prog="python -m tests.speed", description=__doc__)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument(
        "--minutes", type=int, nargs="*", default=[1, 10], help="lengths for memory; 60 takes half an hour"
    )
    parser.add_argument("--only", choices=PARTS)
    given = parser.parse_args()
    parts = {
        "ratios": lambda: ratios(given.rounds),
        "second-look": lambda: second_look(given.rounds),
        "floors": floors,
        "start": start_up,
        "memory": lambda: memory(given.minutes),
        "batches": batches,
        "judging": judging,
    }
    kept = FOLDER / "speed.json"
    found: dict = json.loads(kept.read_text()) if given.only and kept.exists() else {}
    found["machine"] = machine()
    print(found["machine"])
    for name, part in parts.items():
        if given.only in (None, name):
            found[name] = part()
            print(name, json.dumps(found[name]), flush=True)
    FOLDER.mkdir(parents=True, exist_ok=True)
    kept.write_text(json.dumps(found, indent=1) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
