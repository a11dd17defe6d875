"""marks and tags -> what the machine itself shows: load, lever, pivot beside the knee, pad, seat, handle."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from shared.domain import Floats, Rep, RepSet, Signal, Signals, Track, Unit
from shared.exercise import CheckSpec, Exercise
from shared.places import Sight
from vision.measuring.machine.board import Board, find_board
from vision.measuring.machine.lever import Lever, axis_path, find_lever
from vision.measuring.machine.load import Load, cm_per_px, find_load, height_signal
from vision.measuring.machine.pad import pad_signals
from vision.measuring.machine.pivot import DEPTH_CM, Pivot, find_pivot
from vision.measuring.machine.places import Placed, kept_sights, place_marks
from vision.measuring.machine.seat_edge import seat_signal
from vision.seeing.marks import MarkPath, Marks
from vision.seeing.tags import TagPath

#: A mark that is known for less of the clip answers nothing in place of the body.
FOLLOWED_SHARE = 0.5
#: Measure of the check that compares a joint with the machine's axis.
PIVOT_CHECK = "pivot_off"
#: Half-width of the handle's place within one clip, in cm: the tracker's and the scale's.
HANDLE_HALF_CM = 1.5


@dataclass(frozen=True)
class Machine:
    """What marks and tags gave, None without them; signals on the track's clock.

    marks: those that were taken from the board among them, as ``placed`` says; sights: where what a person
    marked lies against the board.
    """

    marks: Marks = field(default_factory=dict)
    load: Load | None = None
    pivot: Pivot | None = None
    lever: Lever | None = None
    board: Board | None = None
    signals: Signals = field(default_factory=dict)
    sights: tuple[Sight, ...] = ()
    placed: Placed = field(default_factory=Placed)

    def load_rep(self, rep: Rep) -> Rep | None:
        """The load's own repetition that turns within this one."""
        own = self.load.reps.reps if self.load is not None and self.load.reps is not None else ()
        near = min(own, key=lambda r: abs(r.turn_s - rep.turn_s), default=None)
        return near if near is not None and rep.start_s <= near.turn_s <= rep.end_s else None


def followed(marks: Marks) -> list[str]:
    """Names of the marks that were followed well enough to answer in place of the body."""
    return [name for name, path in marks.items() if path.seen.mean() >= FOLLOWED_SHARE]


def with_marks(exercise: Exercise, names: Iterable[str]) -> Exercise:
    """The exercise with the checks as they are where those marks were given."""
    given = set(names)
    return exercise.model_copy(update={"checks": tuple(_with_marks(spec, given) for spec in exercise.checks)})


def _with_marks(spec: CheckSpec, names: set[str]) -> CheckSpec:
    changes = {k: v for name, fields in spec.with_mark.items() if name in names for k, v in fields.items()}
    return spec.changed(**changes) if changes else spec


def read_machine(
    marks: Marks,
    track: Track,
    signals: Signals,
    exercise: Exercise,
    reps: RepSet | None,
    pivot_depth_cm: float = DEPTH_CM,
    sights: Sequence[Sight] = (),
) -> Machine:
    """Everything the marks and tags say about a set; sights: where unmarked parts lie against the board."""
    found: dict[str, Signal] = {}
    load = pivot = None
    given = marks
    marks, lever, board = _by_tags(marks, track, exercise, reps)
    placed = place_marks(sights, marks, board)
    marks = {**marks, **placed.marks}
    if (stack := marks.get("stack")) is not None:
        load = find_load(stack, track, reps)
        found["load_height"] = height_signal(load, stack, track)
    if (axis := marks.get("pivot")) is not None and reps is not None:
        drive = signals[exercise.drive.signal]
        pivot = find_pivot(
            axis, marks.get("knee"), track=track, drive=drive, reps=reps, depth_cm=pivot_depth_cm, board=board
        )
        found |= {} if pivot is None else {s.name: s for s in (pivot.along, pivot.across)}
    if (handle := marks.get("handle")) is not None:
        found |= _handle_signals(handle, track, reps)
    if (pad := marks.get("pad")) is not None and (end := marks.get("pad_end")) is not None:
        found |= pad_signals(pad, end, track)
    if (edge := marks.get("seat")) is not None and (gap := seat_signal(edge, track)) is not None:
        found[gap.name] = gap
    return Machine(
        marks, load, pivot=pivot, lever=lever, board=board, signals=found,
        sights=kept_sights(given, board), placed=placed,
    )  # fmt: skip


def _by_tags(
    marks: Marks, track: Track, exercise: Exercise, reps: RepSet | None
) -> tuple[Marks, Lever | None, Board | None]:
    """Lever and board by their tags; of a lever beside a joint the axis joins the marks as their pivot."""
    lever = board = None
    if isinstance(tag := marks.get("board"), TagPath):
        board = find_board(tag, track.picture)
    if isinstance(tag := marks.get("lever"), TagPath):
        lever = find_lever(tag, reps)
        beside_joint = any(spec.measure == PIVOT_CHECK for spec in exercise.checks)
        axis = axis_path(lever, tag) if lever is not None and beside_joint and "pivot" not in marks else None
        marks = {**marks, "pivot": axis} if axis is not None else marks
    return marks, lever, board


def _handle_signals(path: MarkPath, track: Track, reps: RepSet | None) -> dict[str, Signal]:
    """Height of the handle over its lowest place, and how far it leaves the straight line of its path."""
    unit: Unit = "cm" if track.cm_per_px is not None else "trunk_fraction"
    scale = track.cm_per_px if track.cm_per_px is not None else 1.0 / track.trunk_px
    half = HANDLE_HALF_CM * scale / cm_per_px(track)
    places = path.at(track.time_s, steady=True)
    if reps is not None:
        places[(track.time_s < reps.start_s) | (track.time_s > reps.end_s)] = np.nan
    height, off = _height_and_off_line(places)
    halves = np.full(len(track.time_s), half)
    return {
        name: Signal(
            name, unit, time_s=track.time_s, values=values * scale, moment_half=halves, clip_half=0.0
        )
        for name, values in (("handle_height", height), ("handle_off_line", off))
    }


def _height_and_off_line(places: Floats) -> tuple[Floats, Floats]:
    """Pixels above the lowest place, and px off the line of best fit, (T,) each."""
    known = ~np.isnan(places[:, 0])
    if np.count_nonzero(known) < 3:
        return np.full(len(places), np.nan), np.full(len(places), np.nan)
    middle = np.mean(places[known], axis=0)
    _, _, axes = np.linalg.svd(places[known] - middle, full_matrices=False)
    return np.max(places[known][:, 1]) - places[:, 1], (places - middle) @ axes[1]
