"""Command: python -m sample_clips.learning.whole_sets CLIP.mp4 ...: writes how sure times and ranges are.

From whole rendered sets of people, cameras, tempo and faults drawn at random (``make_varied`` and its
neighbours), looked at and judged as a user's clip is: within which error nine in ten moments of an average
set lie. How long a phase took ``bounds`` learns of laws of motion, and is run before this: what was wider
there stays.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

from sample_clips.learning.conformal import half_width
from sample_clips.learning.learnt_file import update
from sample_clips.measure import measure_clip
from sample_clips.rendered import truth_of
from shared.exercise import find_exercise
from vision.measuring.learnt.data import FOLDER, load_learnt
from vision.measuring.learnt.features import family_of

#: Percentiles between which a set's range is usual.
MOST = (10, 90)
_Row = Mapping[str, Any]
#: The errors of each set, or its range.
_Errors = Sequence[np.ndarray]


def errors(rows: Iterable[_Row]) -> Iterator[tuple[str, float]]:
    """Quantity and error of each row of ``sample_clips.measure`` that tells of one of them."""
    for row in rows:
        if row["kind"] == "duration":
            yield "duration_s", row["error"]
        elif row["kind"] == "end":
            yield "drive_deg", row["error"]
        elif row["kind"] == "verdict" and row["check"] == "short-range" and row["measured"] is not None:
            yield "range_percent", row["measured"] - row["true"]


def set_errors(clip: Path) -> tuple[str, str, dict[str, np.ndarray]]:
    """Exercise and view of one clip, and its errors and range by quantity; none where it is not judged."""
    truth = truth_of(clip)
    if truth["part"] == "validate":
        raise SystemExit(f"{clip.name} is for validation: nobody learns from it")
    found = defaultdict(list)
    rows = measure_clip(clip)
    for quantity, error in errors(rows):
        found[quantity].append(error)
    if (span := span_of(rows)) is not None:
        found["drive_span"].append(span)
    view = str(truth["view"]).split("-")[0]
    return truth["exercise"], view, {quantity: np.array(values) for quantity, values in found.items()}


def span_of(rows: Iterable[_Row]) -> float | None:
    """How far the drive goes in a set as it is told, degrees; None where it has no full repetition."""
    ends: dict[str, list[float]] = defaultdict(list)
    for row in rows:
        if row["kind"] == "end":
            ends[row["which"]].append(row["told"])
    return abs(float(np.median(ends["lift"]) - np.median(ends["down"]))) if ends else None


def half_of(sets: _Errors, step: float) -> float:
    """The half-width, in whole steps."""
    return round(float(np.ceil(half_width(sets) / step)) * step, 6)


def write(exercise: str, found: Mapping[tuple[str, str], _Errors], folder: Path = FOLDER) -> None:
    """The half-widths and ranges of an exercise; found: errors and ranges by quantity and view. Nothing for
    what has none.
    """

    def of(quantity: str) -> dict[str, _Errors]:
        return {view: sets for (name, view), sets in found.items() if name == quantity and sets}

    ranges, durations = (
        [one for sets in of(q).values() for one in sets] for q in ("range_percent", "duration_s")
    )
    if ranges:
        update(exercise, "range_percent", half_of(ranges, 0.1), _told(len(ranges)), folder)
    if durations and (half_s := half_of(durations, 0.01)) > load_learnt(exercise).duration_s:
        update(exercise, "duration_s", half_s, _told(len(durations)), folder)
    ends = of("drive_deg") if find_exercise(exercise).drive_joint is not None else {}
    if ends:
        halves = {view: half_of(sets, 0.1) for view, sets in ends.items()}
        update(exercise, "drive_deg", halves, _told(*(len(sets) for sets in ends.values())), folder)
    # A knee is told as well whatever its range.
    spans = of("drive_span") if family_of(find_exercise(exercise)) == "arm" and ends else {}
    if spans:
        most = {view: _span(np.concatenate(sets)) for view, sets in spans.items()}
        update(exercise, "drive_span", most, _told(*(len(sets) for sets in spans.values())), folder)


def _span(ranges: np.ndarray) -> list[float]:
    return [round(float(v), 1) for v in np.percentile(ranges, MOST)]


def _told(*sets: int) -> str:
    return f"{' and '.join(map(str, sets))} whole sets drawn at random"


def main() -> None:
    """Print a line for each exercise, quantity and view, and write the half-widths and ranges."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.learning.whole_sets", description=__doc__)
    parser.add_argument("clips", type=Path, nargs="+", help="rendered clips, none of the validation part")
    exercises: dict[str, dict[tuple[str, str], list[np.ndarray]]] = defaultdict(lambda: defaultdict(list))
    with ProcessPoolExecutor(2) as pool:
        for exercise, view, found in pool.map(set_errors, parser.parse_args().clips):
            for quantity, values in found.items():
                exercises[exercise][quantity, view].append(values)
    for exercise, by_view in sorted(exercises.items()):
        for (quantity, view), sets in sorted(by_view.items()):
            told = _span(np.concatenate(sets)) if quantity == "drive_span" else f"{half_width(sets):.2f}"
            print(f"{exercise} {quantity} {view}: {told} in {len(sets)} sets")
        write(exercise, by_view)


if __name__ == "__main__":
    main()
