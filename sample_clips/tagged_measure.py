"""Command: python -m sample_clips.tagged_measure DIR [--without CLIP...] [--looks DIR...] [--results DIR].

Holds what printed tags give in the clips that ``sample_clips.tagged`` drew against their truth, a row a clip;
``!`` marks what misses its aim. The body comes from the looks recorded of the clips without tags.
``--without`` looks for tags in clips that have none; ``--results`` keeps the reports, for ``plumbset proof``:
what it says of the body by the tags is to be held against what is printed last, the body by the truth.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from pathlib import Path

import numpy as np

from sample_clips.looks import recorded, recorded_again
from sample_clips.rendered import CACHE, truth_arrays, truth_of
from sample_clips.tagged_truth import REST_S, moments
from shared.domain import Landmarks
from shared.exercise import find_exercise
from vision.judging.options import Options
from vision.measuring.machine.lever import range_of
from vision.measuring.machine.load import low_spans
from vision.pipeline import judge_seen, judge_twice
from vision.seeing.clip import open_clip
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.seeing.subject import find_subject
from vision.seeing.tag_tracker import seen_tags, track_tags
from vision.telling.files import write_text

SAMPLE_LOOKS = Path(__file__).parents[1] / "tests" / "data" / "looks"
#: What is aimed at: s, degrees, cm, degrees.
PHASE_S, TURN_DEG, AXIS_CM, RANGE_DEG = 0.04, 2.0, 1.0, 1.5
#: A last repetition that the clip's end cuts off by no more than this counts, s.
CUT_S = 0.5


def main(arguments=None):
    """Print the table; 1 where something misses its aim."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.tagged_measure")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--without", nargs="*", type=Path, default=[])
    parser.add_argument("--looks", nargs="*", type=Path, default=[SAMPLE_LOOKS, CACHE])
    parser.add_argument("--results", type=Path)
    chosen = parser.parse_args(arguments)
    missed, body = 0, defaultdict(list)
    for clip in sorted(chosen.folder.glob("*.mp4")):
        analysis = judged(clip, chosen.looks)
        if chosen.results:
            (chosen.results / clip.stem).mkdir(parents=True, exist_ok=True)
            write_text(chosen.results / clip.stem / "report.json", analysis.report.to_json())
        truth = truth_of(clip)
        found = list(rows(analysis, truth, truth_arrays(clip.with_suffix(".truth.npz"))))
        if not truth["landings"]:
            body_off(analysis.report, truth, body)
        missed += sum(not row.met for row in found)
        print(f"{clip.stem}: " + "; ".join(map(str, found)), flush=True)
    for what, off in body.items():
        mean, sd = np.mean(off), np.std(off, ddof=1) if len(off) > 1 else np.nan
        print(
            f"{what}: {len(off)} pairs, body less truth {mean:+.2f}, limits {mean - 1.96 * sd:+.2f} to",
            end="",
        )
        print(f" {mean + 1.96 * sd:+.2f}")
    for clip in chosen.without:
        markers = seen_tags(open_clip(clip))
        missed += bool(markers)
        print(f"{clip.stem}, without tags: {len(markers)} told{'!' if markers else ''}", flush=True)
    return 1 if missed else 0


def body_off(report, truth, off):
    """Add what the body alone told less the truth of the person's own set, by quantity."""
    near = [
        min(truth["reps"], key=lambda row, rep=rep: abs(row["turn_s"] - rep.turn_s)) for rep in report.reps
    ]
    for rep, row in zip(report.reps, near, strict=True):
        for what in ("lift", "hold", "lower"):
            off[what].append(getattr(rep, f"{what}_s") - row[f"{what}_s"])
    for (rep, row), (_, after) in pairwise(zip(report.reps, near, strict=True)):
        off["pause"].append(rep.rest_s - (after["start_s"] - row["end_s"]))
    full = [(rep, row) for rep, row in zip(report.reps, near, strict=True) if not rep.partial]
    told, true = (
        [rep.drive_max_deg - rep.drive_min_deg for rep, _ in full],
        [r["range_deg"] for _, r in full],
    )
    if "axis_px" in truth:
        off["range"].append(np.median(told) - np.median(true))


@dataclass(frozen=True)
class Row:
    """One figure of one clip in words, and whether it meets its aim."""

    what: str
    told: str
    met: bool = True

    def __str__(self):
        return f"{self.what} {self.told}{'' if self.met else '!'}"


def judged(clip, looks):
    """The analysis of the clip without tags by its recorded look, with the tags of the clip that has them."""
    source, truth, pose = open_clip(clip), truth_of(clip), MediaPipePose()
    exercise = find_exercise(truth["exercise"])
    folder = next(f for f in looks if (f / pose.name / clip.stem).exists())
    seen = recorded(clip, pose, folder)
    scale = min(source.clip.width, source.clip.height) / min(seen.clip.width, seen.clip.height)

    def larger(looked):
        """As a look at the clip with tags would have given it: up to its end, in its pixels."""
        kept = looked.time_s <= source.clip.duration_s
        arrays = {f.name: getattr(looked, f.name)[kept] for f in fields(looked) if f.name != "model"}
        arrays["image_px"] = arrays["image_px"] * scale + np.array([scale - 1, scale - 1, 0]) / 2
        return Landmarks(**arrays, model=looked.model)

    survey = larger(seen.survey)
    seen = replace(
        seen,
        clip=source.clip,
        survey=survey,
        subject=find_subject(survey, source.clip),
        dense=larger(seen.dense),
        flow=None if seen.flow is None else replace(seen.flow, moved_px=seen.flow.moved_px * scale),
        marks=track_tags(source, exercise.tag_number, seen_tags(source)),
    )
    if not (folder / pose.name / clip.stem / "again.npz").exists():
        return judge_seen(seen, exercise, Options(cleared=True))
    return judge_twice(
        seen, exercise, Options(cleared=True), lambda: larger(recorded_again(clip, pose, folder))
    )


def rows(analysis, truth, arrays):
    """What tags gave in one clip against its truth, as rows."""
    machine, end_s = analysis.machine, analysis.clip.duration_s
    whole = [row for row in truth["reps"] if row["end_s"] < end_s + CUT_S]
    for place, path in machine.marks.items():
        if place != "pivot":
            yield Row(f"{place} seen", f"{100 * path.seen.mean():.0f} %")
    if machine.load is None:
        yield Row("stack", "not found", False)
    else:
        yield from _of_the_load(machine.load, truth, arrays, whole)
    if machine.board is not None:
        yield _turn(machine.board, truth["board"]["turn_deg"])
    if "axis_px" in truth:
        yield from _of_the_lever(machine, analysis.reps, truth, arrays)


def _of_the_load(load, truth, arrays, whole):
    way_s, way_cm = arrays["load_s"], arrays["load_cm"].astype(float)
    off = np.abs(load.height_cm - np.interp(load.time_s, way_s, way_cm))
    yield Row("height within", f"{np.nanpercentile(off, 95):.1f} cm")
    told, true = 0 if load.reps is None else len(load.reps.full), sum(not row["partial"] for row in whole)
    yield Row("count", f"{told} of {true}", told == true)
    ended = [row for row in whole if row["end_s"] < load.time_s[-1]]
    if load.reps is not None:
        yield _moments(load.reps.reps, moments(way_s, way_cm, truth["reps"])[: len(ended)])
    inside = (whole[0]["turn_s"], whole[-1]["turn_s"])
    found = [(s.start_s, s.end_s) for s in low_spans(load.time_s, load.height_cm, *inside)]
    true_spans = [span for span in truth["landings"] if span[1] < inside[1]]
    for what, kind in (("rests", True), ("touches", False)):
        want, got = ([s for s in spans if (s[1] - s[0] >= REST_S) == kind] for spans in (true_spans, found))
        hit = sum(any(a < d and c < b for c, d in got) for a, b in want)
        yield Row(what, f"{hit} of {len(want)}, {len(got) - hit} false", hit == len(want) == len(got))


def _moments(reps, true):
    near = [min(reps, key=lambda rep, turn=row[1]: abs(rep.turn_s - turn)) for row in true]
    told = np.array([[r.start_s, r.turn_s, r.lower_start_s, r.end_s] for r in near])
    off = np.abs(told - true)
    words = f"{np.count_nonzero(off <= PHASE_S)} of {off.size} within {PHASE_S} s, all within {off.max():.2f}"
    ends = ", ".join(f"{v:.2f}" for v in off.max(axis=0))
    return Row("moments", f"{words} (start, turn, lower, end: {ends})", bool((off <= PHASE_S).all()))


def _turn(board, true):
    if board.why:
        return Row("turn", "cannot tell", False)
    off = abs(board.turn_deg - true)
    return Row("turn", f"off by {off:.1f}, said within {board.half_deg:.1f}", off <= TURN_DEG)


def _of_the_lever(machine, reps, truth, arrays):
    lever, path = machine.lever, machine.marks.get("lever")
    if lever is None:
        yield Row("lever", "not found", False)
        return
    off = float(np.linalg.norm(lever.axis_px - truth["axis_px"])) * path.cm_per_px
    yield Row("axis off by", f"{off:.1f} cm", off <= AXIS_CM)
    if reps is not None:
        told = [range_of(lever.time_s, lever.angle_deg, rep) for rep in reps.full]
        true = [_true_range(arrays, rep) for rep in reps.full]
        off = [abs(a - b) for a, b in zip(told, true, strict=True) if a is not None]
        words = f"{max(off):.1f} degrees, in the middle {abs(lever.range_deg - np.median(true)):.1f}"
        yield Row(f"range of {len(off)} off by", words, max(off) <= RANGE_DEG)


def _true_range(arrays, rep):
    """Degrees from end to end of the lever's own truth in one repetition."""
    inside = (arrays["time_s"] >= rep.start_s) & (arrays["time_s"] <= rep.end_s)
    return float(np.ptp(arrays["profile_deg"][inside]))


if __name__ == "__main__":
    sys.exit(main())
