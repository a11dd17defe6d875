"""Marks of a machine's still parts by its frame board: kept from a clip that was marked, found in another."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from shared.domain import Floats
from shared.places import STILL_PARTS, Sight, StillPart
from vision.measuring.machine.board import Board
from vision.measuring.machine.sight_lines import agreeing, line_of_sight, meet, seen_at
from vision.seeing.marks import MarkName, MarkPath, MarkPoint, Marks
from vision.seeing.tags import TagPath

#: A mark that may be off by more than this is not taken from the board, cm.
MOST_OFF_CM = 2.0
NO_BOARD = "the frame board was not seen"
#: Both ends of a pad are told, or none.
BOTH: Mapping[StillPart, StillPart] = {"pad": "pad_end", "pad_end": "pad"}


@dataclass(frozen=True)
class PlacedPath(MarkPath):
    """The path of a mark that was taken from the board; half_cm: half-width of its place."""

    half_cm: float = 0.0


@dataclass(frozen=True)
class Placed:
    """Marks from the board by name; too_unsure: half-widths of those that were left out for it, cm.

    why: the reason where there could be none at all.
    """

    marks: Mapping[str, PlacedPath] = field(default_factory=dict)
    too_unsure: Mapping[str, float] = field(default_factory=dict)
    why: str = ""


def kept_sights(marks: Marks, board: Board | None) -> tuple[Sight, ...]:
    """Lines of sight of the still parts that a person marked; none where the board was not seen."""
    tag = marks.get("board")
    if not isinstance(tag, TagPath) or board is None or not board.poses:
        return ()
    found = []
    for name in STILL_PARTS:
        if (path := marks.get(name)) is None:
            continue
        steady = path.at(tag.time_s) - _shift(tag)
        known = steady[~np.isnan(steady[:, 0])]
        if len(known):
            found.append(line_of_sight(name, np.median(known, axis=0), board.poses))
    return tuple(found)


def place_marks(sights: Iterable[Sight], marks: Marks, board: Board | None) -> Placed:
    """Marks of the parts whose lines of sight are known, but for those that are marked already."""
    by_name: dict[StillPart, list[Sight]] = {}
    for sight in dict.fromkeys(sights):
        if sight.name not in marks:
            by_name.setdefault(sight.name, []).append(sight)
    if not by_name:
        return Placed()
    tag = marks.get("board")
    if not isinstance(tag, TagPath) or board is None or not board.poses:
        return Placed(why=NO_BOARD if board is None else board.why)
    found = {name: seen_at(meet(agreeing(lines)), board.poses) for name, lines in by_name.items()}
    halves = {
        name: max(found[end][1] for end in (name, BOTH.get(name, name)) if end in found) for name in found
    }
    return Placed(
        {
            name: PlacedPath(**vars(still_path(name, xy, tag)), half_cm=halves[name])
            for name, (xy, _) in found.items()
            if halves[name] <= MOST_OFF_CM
        },
        {name: half for name, half in halves.items() if half > MOST_OFF_CM},
    )


def still_path(name: MarkName, xy: Floats, tag: TagPath) -> MarkPath:
    """A still place (2,) of the first picture, as a mark that is followed where the tag is seen."""
    shift = _shift(tag)
    steady = np.where(np.isnan(shift), np.nan, xy)
    seen = steady + shift
    first = int(np.argmax(~np.isnan(seen[:, 0])))
    point = MarkPoint(name, float(seen[first, 0]), y=float(seen[first, 1]), time_s=float(tag.time_s[first]))
    confidence = np.where(np.isnan(seen[:, 0]), 0.0, tag.confidence)
    return MarkPath(point, tag.time_s, seen, steady, confidence)


def half_cm(*paths: MarkPath) -> float:
    """The largest half-width of marks that were taken from the board; 0 for those given by hand."""
    return max((path.half_cm for path in paths if isinstance(path, PlacedPath)), default=0.0)


def _shift(tag: TagPath) -> Floats:
    """How far the camera's own motion moves the picture (F, 2) px from the first."""
    return tag.xy_px - tag.steady_px
