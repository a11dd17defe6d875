"""What the machine shows -> the report: marks with their confidence, load, pivot, and plain sentences."""

from __future__ import annotations

import numpy as np

from shared.domain import RepSet
from shared.exercise import Exercise
from shared.places import Sight
from shared.report_machine import (
    BoardPart,
    LeverPart,
    LoadPart,
    LoadRepPart,
    MachinePart,
    MarkPart,
    PivotPart,
    SpanPart,
)
from vision.common.quantities import give_or_take, quantity
from vision.judging.bind import wanted_marks
from vision.measuring.machine.board import Board
from vision.measuring.machine.lever import RANGE_HALF_DEG, Lever
from vision.measuring.machine.load import Load
from vision.measuring.machine.places import Placed, PlacedPath
from vision.measuring.machine.shown import Machine
from vision.seeing.marks import MarkPath
from vision.seeing.tags import TagPath
from vision.telling.words import HOW_PIVOT

_DIGITS = 4
NO_PIVOT = "Knee alignment not checked: that needs a side view with hip and knee in the picture."
NOT_MOVING = (
    "The mark {name!r} could not be followed: it moves too little to be told from the room behind it. "
    "Mark a plain edge or label in the middle of the moving part."
)

FROM_BOARD = "Marks from the board: {marks}. That holds as long as board and parts are not moved."
TOO_UNSURE = (
    "Not taken from the board: {marks}. That is too unsure from where the phone stands; "
    "mark them in this clip too, and they hold from both places."
)
NOT_PLACED = "No mark was taken from the board: {why}."


def machine_part(machine: Machine | None, reps: RepSet | None, depth_cm: float) -> MachinePart | None:
    """What marks and tags gave; None without any."""
    if machine is None or not machine.marks:
        return None
    return MachinePart(
        marks=[_mark_part(path) for path in machine.marks.values()],
        load=None if machine.load is None else _load_part(machine, reps),
        pivot=_pivot_part(machine, depth_cm),
        lever=None if machine.lever is None else _lever_part(machine.lever),
        board=None if machine.board is None else _board_part(machine.board),
        sights=[_rounded(sight) for sight in machine.sights],
    )


def machine_notes(machine: Machine | None, exercise: Exercise, usable: bool) -> list[str]:
    """What there is to say of the marks: which one is wanted, which were lost, what they could not give."""
    if machine is None:
        return []
    wanted = usable and "pivot" in wanted_marks(exercise) - set(machine.marks)
    notes = [HOW_PIVOT] if wanted else []
    notes += [said for path in machine.marks.values() if (said := _lost_words(path))]
    notes += _tag_words(machine) + _placed_words(machine.placed)
    return [*notes, NO_PIVOT] if "pivot" in machine.marks and machine.pivot is None else notes


def two_counts(machine: Machine | None, reps: RepSet | None) -> tuple[str | None, bool]:
    """What to say of the load's count beside the body's, and whether it is a notice or a note only."""
    if machine is None or machine.load is None or reps is None:
        return None, False
    return count_words(machine.load, reps), machine.load.reps is not None


def count_words(load: Load, reps: RepSet) -> str | None:
    """What there is to say about both counts; None where they agree."""
    if load.reps is None:
        return "The load's own repetitions were not counted: its mark was lost for too long in the set."
    moved, loaded = len(reps.full), len(load.reps.full)
    if moved == loaded:
        return None
    return (
        f"The two counts differ: {quantity(moved, 'reps')} by the body, {loaded} by the load. "
        "Look at the clip."
    )


def _tag_words(machine: Machine) -> list[str]:
    """What the printed tags added, in a sentence; none without tags."""
    given = {
        "stack": "the load's count, times, height and rests",
        "lever": "how far the lever turns, and its axis",
        "board": "how the phone was turned",
    }
    tags = [path for path in machine.marks.values() if isinstance(path, TagPath)]
    if not tags:
        return []
    said = [f"{p.place} tag, seen in {p.seen.mean():.0%} of the frames: {given[p.place]}" for p in tags]
    return [f"What printed tags gave: {'; '.join(said)}."]


def _placed_words(placed: Placed) -> list[str]:
    """Which marks were taken from the board, and which could not be and why."""
    if placed.why:
        return [NOT_PLACED.format(why=placed.why)]
    said = []
    if told := [_ends_as_one(name, path.half_cm) for name, path in placed.marks.items()]:
        said.append(FROM_BOARD.format(marks="; ".join(dict.fromkeys(told))))
    if unsure := [_ends_as_one(name, half) for name, half in placed.too_unsure.items()]:
        said.append(TOO_UNSURE.format(marks="; ".join(dict.fromkeys(unsure))))
    return said


def _ends_as_one(name: str, half_cm: float) -> str:
    return f"{name.removesuffix('_end')}, {give_or_take(half_cm, 'cm')} cm"


def _lost_words(path: MarkPath) -> str | None:
    name = path.point.name
    kind = "tag" if isinstance(path, TagPath) else "mark"
    if np.count_nonzero(path.seen) <= 1:
        return NOT_MOVING.format(name=name)
    spans = path.lost_spans()
    if not spans:
        return None
    longest = max(spans, key=lambda s: s[1] - s[0])
    total = sum(end - start for start, end in spans)
    return (
        f"The {kind} {name!r} was lost for {total:.1f} of {path.time_s[-1]:.1f} s, longest from "
        f"{longest[0]:.1f} to {longest[1]:.1f} s; nothing is said from it there."
    )


def _r(value: float | None) -> float | None:
    return None if value is None or not np.isfinite(value) else round(float(value), _DIGITS)


def _mark_part(path: MarkPath) -> MarkPart:
    seen = path.seen
    point = path.point
    return MarkPart(
        name=point.name,
        x=point.x,
        y=point.y,
        time_s=point.time_s,
        seen_share=round(float(seen.mean()), _DIGITS) if len(seen) else 0.0,
        confidence=_r(float(np.median(path.confidence[seen]))) if seen.any() else None,
        lost=[_span(start, end) for start, end in path.lost_spans()],
        tag=isinstance(path, TagPath),
        board_half_cm=_r(path.half_cm) if isinstance(path, PlacedPath) else None,
    )


def _rounded(sight: Sight) -> Sight:
    return sight.model_copy(update={k: round(v, _DIGITS) for k, v in sight if isinstance(v, float)})


def _lever_part(lever: Lever) -> LeverPart:
    return LeverPart(range_deg=_r(lever.range_deg), uncertainty=RANGE_HALF_DEG)


def _board_part(board: Board) -> BoardPart:
    far = None if board.why else (round(board.distance_cm[0]), round(board.distance_cm[1]))
    return BoardPart(
        turn_deg=_r(board.turn_deg),
        down_deg=_r(board.down_deg),
        uncertainty=_r(board.half_deg),
        distance_cm=far,
        why=board.why,
    )


def _span(start_s: float, end_s: float) -> SpanPart:
    return SpanPart(start_s=round(start_s, _DIGITS), end_s=round(end_s, _DIGITS))


def _load_part(machine: Machine, reps: RepSet | None) -> LoadPart:
    load = machine.load
    assert load is not None
    unit = machine.signals["load_height"].unit
    listed = reps.reps if reps is not None else ()
    rows = []
    for i, rep in enumerate(listed):
        own = machine.load_rep(rep)
        following = listed[i + 1].turn_s if i + 1 < len(listed) else None
        rows.append(
            LoadRepPart(
                number=rep.number,
                lift_s=None if own is None else _r(own.lift_s),
                lower_s=None if own is None else _r(own.lower_s),
                lift_peak_speed=None if own is None else _r(own.lift_peak_speed),
                lower_peak_speed=None if own is None else _r(own.lower_peak_speed),
                landing_speed_cm=_r(load.landing_speed(rep)),
                rest_s=None if following is None else _r(load.rest_after(rep, following)),
                start_s=None if own is None else _r(own.start_s),
                turn_s=None if own is None else _r(own.turn_s),
                lower_start_s=None if own is None else _r(own.lower_start_s),
                end_s=None if own is None else _r(own.end_s),
            )
        )
    return LoadPart(
        unit=unit,
        count=None if load.reps is None else len(load.reps.full),
        lowest_is_stack=load.sure,
        rests=[_span(rest.start_s, rest.end_s) for rest in load.rests],
        reps=rows,
    )


def _pivot_part(machine: Machine, depth_cm: float) -> PivotPart | None:
    pivot = machine.pivot
    if pivot is None:
        return None
    return PivotPart(
        unit=pivot.unit,
        distance=round(pivot.distance, _DIGITS),
        along=round(pivot.along_median, _DIGITS),
        across=round(pivot.across_median, _DIGITS),
        uncertainty=round(pivot.half, _DIGITS),
        change=_r(pivot.change),
        change_uncertainty=round(pivot.change_half, _DIGITS),
        depth_cm=depth_cm,
        knee_marked=pivot.knee_marked,
    )
