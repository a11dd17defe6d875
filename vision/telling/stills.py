"""The two pictures of the hand-out, drawn alike: how the best repetition went, and what is to change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shared.domain import Image, Rep
from shared.report import FindingPart
from vision.common.seams import FrameSource
from vision.telling.analysis import Analysis
from vision.telling.cues import best_rep, main_cue
from vision.telling.faces import Part
from vision.telling.overlay import draw_limbs, near_side, points_at
from vision.telling.paths import like, path_picture, timed
from vision.telling.pictures import Shot, fit, frame_near, hider_for, part_shown, shot_of, taken

#: Long side of the clip's picture from which a still is cut: sharp on paper and on a phone.
LONG_SIDE_PX = 1600
#: What was measured in the best repetition is shown this near, in s, to the moment that compares.
SAME_S = 0.3


@dataclass(frozen=True)
class Still:
    """A picture (H, W, 3) and of which repetition it is."""

    image: Image
    rep: int


def stills(
    source: FrameSource, analysis: Analysis, show_faces: bool = False
) -> tuple[Still | None, Still | None]:
    """The good still and the fault's, both cut alike; None where there is no such moment or picture.

    Without a cue, or a moment of it, the good one shows the lift end of the best repetition.

    Raises
    ------
    ClipError : the clip cannot be read any more.
    """
    good, fault = shots(analysis)
    found = [shot for shot in (good, fault) if shot is not None]
    part = _part(analysis, [shot.shot.time_s for shot in found])
    hider = None if show_faces else hider_for(analysis)
    made: list[Still | None] = []
    for one in (good, fault):
        frame = None if one is None else frame_near(source, one.shot.time_s)
        if one is None or frame is None:
            made.append(None)
            continue
        image = taken(frame, analysis, one.shot, hider, part, LONG_SIDE_PX)
        made.append(Still(image, one.rep))
    return made[0], made[1]


@dataclass(frozen=True)
class ShotOfRep:
    """A shot, and of which repetition it is."""

    shot: Shot
    rep: int


def shots(analysis: Analysis) -> tuple[ShotOfRep | None, ShotOfRep | None]:
    """What the two stills are made of."""
    main, best = main_cue(analysis.report), _best(analysis)
    finding = next((f for f in main.every if _pictured(analysis, f)), None) if main is not None else None
    if finding is None:
        return (None if best is None else _at_lift_end(analysis, best)), None
    shot = shot_of(analysis, finding, beside=False)
    rep = _rep_at(analysis, finding, 0.0 if shot is None else shot.time_s)
    fault = None if shot is None or rep is None else ShotOfRep(shot, rep.number)
    return (None if rep is None else _good(analysis, finding, rep, best)), fault


def _pictured(analysis: Analysis, finding: FindingPart) -> bool:
    return finding.clip in (None, analysis.clip.file) and shot_of(analysis, finding) is not None


def _best(analysis: Analysis) -> Rep | None:
    best = best_rep(analysis.report)
    reps = analysis.reps.reps if analysis.reps is not None else ()
    return next((r for r in reps if best is not None and r.number == best.number), None)


def _rep_at(analysis: Analysis, finding: FindingPart, time_s: float) -> Rep | None:
    """The repetition of a finding; of one about the whole set, that of its moment."""
    reps = analysis.reps.reps if analysis.reps is not None else ()
    if finding.rep is not None:
        return next((r for r in reps if r.number == finding.rep), None)
    return next((r for r in reps if r.start_s <= time_s <= r.end_s), None)


def _good(analysis: Analysis, finding: FindingPart, rep: Rep, best: Rep | None) -> ShotOfRep | None:
    """The same moment of a good repetition, drawn as the fault's is."""
    stretch = timed(analysis, finding)
    other = None if stretch is None else like(analysis, stretch)
    if other is not None:
        return ShotOfRep(
            Shot(other.middle_s, lambda image: path_picture(image, analysis, other, None)), other.rep.number
        )
    if finding.rep is None and analysis.reps is not None:
        best = next(iter(analysis.reps.full), None)  # what goes over a set was good at its beginning
    if best is None or best.number == rep.number or finding.time_s is None:
        return None
    at_s = same_moment(finding.time_s, rep, best)
    shot = shot_of(analysis, _measured_there(analysis, finding, best, at_s))
    return None if shot is None else ShotOfRep(shot, best.number)


def same_moment(time_s: float, rep: Rep, other: Rep) -> float:
    """The moment (s) of another repetition that lies as far on in the same phase."""
    here = (rep.start_s, rep.turn_s, rep.lower_start_s, rep.end_s)
    return float(np.interp(time_s, here, (other.start_s, other.turn_s, other.lower_start_s, other.end_s)))


def _measured_there(analysis: Analysis, finding: FindingPart, best: Rep, at_s: float) -> FindingPart:
    """What the same check found there of an angle, where it looked then; else the moment without a figure."""
    for one in analysis.report.findings:
        of_it = (one.check, one.rep, one.verdict) == (finding.check, best.number, "clear")
        if of_it and len(one.points) == 3 and one.time_s is not None and abs(one.time_s - at_s) <= SAME_S:
            return one
    nothing = {"rep": best.number, "time_s": at_s, "measured": None, "uncertainty": None}
    return finding.model_copy(update=nothing)


def _at_lift_end(analysis: Analysis, best: Rep) -> ShotOfRep | None:
    track = analysis.track
    if track is None:
        return None
    at_s = (best.turn_s + best.lower_start_s) / 2

    def draw(image: Image) -> Image:
        points = points_at(track, at_s, image.shape[1] / track.picture[0])
        return draw_limbs(image, points, near_side(track))

    return ShotOfRep(Shot(at_s, draw), best.number)


def _part(analysis: Analysis, times: Sequence[float]) -> Part | None:
    """Rows and columns that hold person and machine at all those moments."""
    if not times:
        return None
    blank = fit(np.zeros((analysis.clip.height, analysis.clip.width, 3), np.uint8), LONG_SIDE_PX)
    height, width = blank.shape[:2]
    parts = [part_shown(analysis, t, width=width, height=height) for t in times]
    rows, columns = zip(*parts, strict=True)
    return _hull(rows), _hull(columns)


def _hull(parts: Sequence[slice]) -> slice:
    return slice(min(p.start for p in parts), max(p.stop for p in parts))
