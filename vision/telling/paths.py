"""What happened to a load let fall, hurried or moved unevenly: the path of hand or shank, ten marks a second.

Beside it, moved aside, lies the same path of the set's best repetition: marks that lie far apart were fast.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, Image, Rep
from shared.report import FindingPart
from vision.judging.checks import CHECKS
from vision.telling.analysis import Analysis
from vision.telling.cues import best_rep
from vision.telling.overlay import draw_limbs, draw_marks, mark_points, near_side, points_at
from vision.telling.strokes import MARKED, TEXT, Colour, dot, label, polyline, stroke, text_size

#: A mark on the path every so many seconds.
MARK_S = 0.1
#: The other path lies this many letters' heights aside.
ASIDE = 3.2


@dataclass(frozen=True)
class Stretch:
    """Part of a repetition of the clip, in s; whole: all of it."""

    rep: Rep
    start_s: float
    end_s: float
    whole: bool = False

    @property
    def middle_s(self) -> float:
        """Its middle."""
        return (self.start_s + self.end_s) / 2

    @property
    def words(self) -> str:
        """``rep 7: 1.9 s``."""
        return f"rep {self.rep.number}: {self.end_s - self.start_s:.1f} s"


def timed(analysis: Analysis, finding: FindingPart) -> Stretch | None:
    """The stretch that a finding about time is about; None for other findings, or where none is known.

    That is the phase with the finding's moment in it; for a set's evenness the repetition whose length is
    furthest from the usual.
    """
    spec = next((c for c in analysis.exercise.checks if c.id == finding.check), None)
    if spec is None or not CHECKS[spec.measure].traits.timed or analysis.reps is None:
        return None
    full = analysis.reps.full
    if finding.rep is None and full:
        usual = float(np.median([r.duration_s for r in full]))
        odd = max(full, key=lambda r: abs(r.duration_s - usual))
        return _whole(odd)
    rep = next((r for r in analysis.reps.reps if r.number == finding.rep), None)
    if rep is None or finding.time_s is None:
        return None
    return _phase(rep, lowering=finding.time_s >= rep.lower_start_s)


def like(analysis: Analysis, stretch: Stretch) -> Stretch | None:
    """The same stretch of the set's best repetition; None where there is no other."""
    best = best_rep(analysis.report)
    reps = analysis.reps.reps if analysis.reps is not None else ()
    rep = next((r for r in reps if best is not None and r.number == best.number), None)
    if rep is None or rep.number == stretch.rep.number:
        return None
    if stretch.whole:
        return _whole(rep)
    return _phase(rep, lowering=stretch.start_s >= stretch.rep.lower_start_s)


def _whole(rep: Rep) -> Stretch:
    return Stretch(rep, rep.start_s, rep.end_s, whole=True)


def _phase(rep: Rep, lowering: bool) -> Stretch:
    return Stretch(rep, rep.lower_start_s, rep.end_s) if lowering else Stretch(rep, rep.start_s, rep.turn_s)


def path_picture(image: Image, analysis: Analysis, stretch: Stretch, other: Stretch | None) -> Image:
    """The limbs in the middle of a stretch, and the path over it; other: drawn aside to compare with.

    image: the frame of that moment at any even scale.
    """
    track = analysis.track
    if track is None:
        return image.copy()
    scale = image.shape[1] / track.picture[0]
    points = points_at(track, stretch.middle_s, scale)
    out = draw_limbs(image, points, near_side(track))
    marks = {} if analysis.machine is None else analysis.machine.marks
    out = draw_marks(out, marks, stretch.middle_s, scale)
    path, ticks = _path(analysis, stretch, scale, stretch.middle_s)
    if len(path) < 2:
        return out
    away = _away(path, np.array(list(points.values())))
    aside = ASIDE * text_size(image) * away
    out = _drawn(out, path, ticks, colour=MARKED, words=stretch.words, offset=-aside / 2)
    if other is None:
        return out
    theirs, their_ticks = _path(analysis, other, scale, stretch.middle_s)
    if len(theirs) < 2:
        return out
    return _drawn(out, theirs + aside, their_ticks + aside, colour=TEXT, words=other.words, offset=aside / 2)


def _drawn(image: Image, path: Floats, ticks: Floats, colour: Colour, words: str, offset: Floats) -> Image:
    """A path with its marks and its words."""
    out = image.copy()
    polyline(out, path, colour, 0.5 * stroke(out))
    for x, y in ticks:
        dot(out, (float(x), float(y)), colour, stroke(out))
    middle = path[len(path) // 2]
    return label(out, (float(middle[0]), float(middle[1])), words, offset)


def _path(analysis: Analysis, stretch: Stretch, scale: float, shown_s: float) -> tuple[Floats, Floats]:
    """Where the moved end was (K, 2) px, and where it was at every tenth of a second from the start.

    shown_s: the moment of the picture that they are drawn on.
    """
    assert analysis.track is not None
    step = 1.0 / analysis.track.rate_hz
    times = np.arange(stretch.start_s, stretch.end_s + step / 2, step)
    ticks = np.arange(stretch.start_s, stretch.end_s + MARK_S / 2, MARK_S)
    return _places(analysis, times, scale, shown_s), _places(analysis, ticks, scale, shown_s)


def _places(analysis: Analysis, times: Floats, scale: float, shown_s: float) -> Floats:
    """Known places of the load's mark where there is one, else of the end of the limb that counts."""
    marks = {} if analysis.machine is None else analysis.machine.marks
    drive = analysis.signals.get(analysis.exercise.drive.signal)
    name = "stack" if "stack" in marks else drive.points[-1] if drive is not None and drive.points else ""
    found = []
    for time_s in times:
        here = mark_points(marks, float(time_s), scale) if name in marks else {}
        if name not in marks and analysis.track is not None:
            here = points_at(analysis.track, float(time_s), scale, shown_s)
        if name in here:
            found.append(here[name])
    return np.array(found, dtype=float).reshape(-1, 2)


def _away(path: Floats, body: Floats) -> Floats:
    """The direction (2,) across a path that leads away from the body."""
    along = np.linalg.svd(path - path.mean(axis=0))[2][0]
    across = np.array([-along[1], along[0]])
    out = path.mean(axis=0) - body.mean(axis=0)
    return across if float(across @ out) >= 0 else -across
