"""Command: python -m tests.bench.constant [--clips DIR] [--looks DIR].

Which faults that are there in every repetition are asked about, on rendered sets with one each
(``sample_clips/constant/``), and how often they are where there is none: on the others of these, and on the
sample clips. ``make bench`` renders the sets first.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sample_clips.looks import seen_again_cached, seen_cached
from sample_clips.rendered import truth_arrays, truth_of
from shared.exercise import find_exercise
from shared.report import FindingPart
from tests.samples import NAMES, checked
from vision.judging.bind import bind
from vision.judging.options import Options
from vision.pipeline import judge_twice
from vision.seeing.marks import MARK_NAMES, MarkPath, MarkPoint
from vision.seeing.pose_mediapipe import MediaPipePose
from vision.telling.analysis import Analysis

RENDERED = Path(__file__).parents[2] / "sample_clips" / "bench" / "rendered" / "constant"
#: The check that should ask about what a set's name ends in.
FAULTS: Mapping[str, str] = {
    "arms-low": "arms-off-level",
    "elbows-bent": "elbows-bent",
    "one-hand-higher": "hands-uneven",
    "shoulders-up": "shoulders-up",
    "trunk-forward": "start-posture",
    "hips-off-pad": "hips-off-pad",
}
MEASURES = ("all_set", "at_start", "against_pad")
STILL_MARKS = tuple(name for name in MARK_NAMES if name in ("pad", "pad_end"))


@dataclass(frozen=True)
class Row:
    """One set: the check that should ask, what it said, and which others asked."""

    clip: str
    check: str
    said: FindingPart | None
    others: tuple[str, ...]

    @property
    def found(self) -> bool:
        """Whether the fault was flagged or asked about."""
        return self.said is not None and self.said.verdict in ("flag", "watch")


def fault_of(clip: str) -> str:
    """The check that should ask about a set, by the set's name; empty for one without such a fault."""
    return next((check for name, check in FAULTS.items() if clip.endswith(name)), "")


def row_of(clip: str, analysis: Analysis) -> Row:
    """What was said of one set."""
    expected = fault_of(clip)
    known = {one.spec.id for one in bind(analysis.exercise).checks if one.spec.measure in MEASURES}
    found = [f for f in analysis.report.findings if f.check in known]
    asked = {f.check for f in found if f.verdict in ("flag", "watch")}
    said = next((f for f in found if f.check == expected), None)
    return Row(clip, expected, said, tuple(sorted(asked - {expected})))


def judged(clip: Path, looks: Path) -> Analysis:
    """A rendered set, judged by its look and by the marks that its truth knows."""
    pose, truth = MediaPipePose(), truth_of(clip)
    seen = seen_cached(clip, pose, looks)
    arrays = truth_arrays(clip.with_name(f"{clip.stem}.truth.npz"))
    marks = {n: _still(n, arrays) for n in STILL_MARKS if clip.stem.endswith("pad") and f"{n}_px" in arrays}
    again = seen_again_cached(clip, pose, looks, seen)
    options = Options(cleared=True, height_cm=truth["body"]["stature_cm"])
    return judge_twice(replace(seen, marks=marks), find_exercise(truth["exercise"]), options, lambda: again)


def _still(name: str, arrays: Mapping[str, np.ndarray]) -> MarkPath:
    """The path of a mark on a part that does not move, pointed at without error."""
    time_s, places = arrays["time_s"], arrays[f"{name}_px"]
    known = next(one for one in MARK_NAMES if one == name)
    point = MarkPoint(known, float(places[0, 0]), y=float(places[0, 1]), time_s=float(time_s[0]))
    return MarkPath(point, time_s, places, places, np.ones(len(time_s)))


def table(rows: list[Row], others: int) -> str:
    """A line a set, and how many were found; others: clips without such a fault, of which rows are a part."""
    lines = ["| set | should ask | answer | measured | also asked |", "|---|---|---|---|---|"]
    for row in rows:
        said = row.said
        value = "" if said is None or said.measured is None else f"{said.measured:.1f} {said.unit}"
        verdict = "nothing" if said is None else said.verdict
        cells = (row.clip, row.check or "none", verdict if row.check else "", value, ", ".join(row.others))
        lines.append(f"| {' | '.join(cells)} |")
    faulty = [row for row in rows if row.check]
    found, false = sum(row.found for row in faulty), sum(bool(row.others) for row in rows)
    told = f"Found: {found} of {len(faulty)}. Asked about what is not there: on {false} of {others} clips."
    return "\n".join([*lines, "", told])


def main(arguments: list[str] | None = None) -> int:
    """Print the table; exit code 1 where nothing was rendered."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.constant", description=__doc__)
    parser.add_argument("--clips", type=Path, default=RENDERED)
    parser.add_argument("--looks", type=Path, default=RENDERED / "seen")
    chosen = parser.parse_args(arguments)
    clips = sorted(chosen.clips.glob("*.mp4"))
    if not clips:
        print("No rendered set was found; run make bench, which renders them first.", file=sys.stderr)
        return 1
    rows = [row_of(clip.stem, judged(clip, chosen.looks)) for clip in clips]
    plain = [row_of(name, checked(name)[0]) for name in NAMES]
    print(table([*rows, *(row for row in plain if row.others)], len(rows) + len(plain)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
