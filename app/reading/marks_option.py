"""``--mark name=x,y@t``, ``--mark pad=x,y,x,y@t`` and ``--pivot-depth-cm``: from words to pixels."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from shared.errors import UsageError

if TYPE_CHECKING:
    from shared.domain import Clip
    from shared.exercise import Exercise
    from vision.seeing.marks import MarkName, MarkPoint

#: A pivot farther than this from the knee belongs to no leg machine.
MAX_DEPTH_CM = 60.0
_NUMBER = r"(\d+(?:\.\d+)?)"
_PLACE = rf"{_NUMBER}\s*,\s*{_NUMBER}"
_MARK = re.compile(rf"\s*([a-z]+)\s*=\s*{_PLACE}\s*(?:,\s*{_PLACE}\s*)?(?:@\s*{_NUMBER}\s*s?\s*)?", re.ASCII)
#: What has two ends is marked by both.
ENDS: dict[MarkName, MarkName] = {"pad": "pad_end"}
_HOW = {
    True: "a pad has two ends; write pad=x,y,x,y@t, its lower end and its upper one.",
    False: "it is one point; write name=x,y@t.",
}


def parse_marks(texts: Sequence[str], exercise: Exercise) -> tuple[MarkPoint, ...]:
    """Each ``name=x,y@t`` as a point; UsageError for what cannot be used on this machine."""
    from vision.seeing.marks import MARK_NAMES, MarkPoint

    known = [name for name in MARK_NAMES if name not in ENDS.values()]
    points: list[MarkPoint] = []
    for text in texts:
        match = _MARK.fullmatch(text)
        if match is None:
            raise UsageError(
                f"--mark {text!r} is no mark; write name=x,y@t, such as stack=60,610@2.5 (pixels, seconds)."
            )
        name, x, y, end_x, end_y, t = match.groups()
        kind = next((one for one in known if one == name), None)
        if kind is None:
            raise UsageError(f"--mark {name}: there is no such mark; use {', '.join(known)}.")
        if (name in ENDS) != (end_x is not None):
            raise UsageError(f"--mark {text!r}: {_HOW[name in ENDS]}")
        if name in {p.name for p in points}:
            raise UsageError(f"--mark {name} was given twice; give each mark once.")
        points.append(MarkPoint(kind, float(x), y=float(y), time_s=float(t or 0)))
        if end_x is not None:
            points.append(MarkPoint(ENDS[kind], float(end_x), y=float(end_y), time_s=float(t or 0)))
    _fit(points, exercise)
    return tuple(points)


def _fit(points: Sequence[MarkPoint], exercise: Exercise) -> None:
    from vision.judging.bind import wanted_marks

    names = {p.name for p in points}
    if "pivot" in names and "pivot" not in wanted_marks(exercise):
        raise UsageError(f"--mark pivot: {exercise.name} compares no joint with the machine's axis.")
    if "pad" in names and "pad" not in wanted_marks(exercise):
        raise UsageError(f"--mark pad: {exercise.name} compares nothing with a back pad.")
    if "seat" in names and "seat" not in wanted_marks(exercise):
        raise UsageError(f"--mark seat: {exercise.name} compares nothing with the seat's edge.")
    if "knee" in names and "pivot" not in names:
        raise UsageError("--mark knee is used beside --mark pivot only; mark the machine's axis as well.")


def inside(points: Sequence[MarkPoint], clip: Clip) -> None:
    """UsageError where a mark lies outside the picture or the clip."""
    for p in points:
        if p.x >= clip.width or p.y >= clip.height:
            raise UsageError(
                f"--mark {p.name}={p.x:g},{p.y:g} lies outside the upright picture, "
                f"which is {clip.width} wide and {clip.height} high."
            )
        if p.time_s > clip.duration_s:
            raise UsageError(
                f"--mark {p.name}@{p.time_s:g} lies after the clip's end at {clip.duration_s:.1f} s."
            )


def depth(depth_cm: float) -> float:
    """A depth from knee to pivot that a machine can have."""
    if not (math.isfinite(depth_cm) and abs(depth_cm) <= MAX_DEPTH_CM):
        raise UsageError(
            f"--pivot-depth-cm {depth_cm:g} fits no machine; give how much nearer to the camera the pivot is "
            f"than the knee, from -{MAX_DEPTH_CM:.0f} to {MAX_DEPTH_CM:.0f}."
        )
    return depth_cm
