"""Analysis -> one picture for every flag: the frame that shows it, heads hidden, the fault drawn on it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np

from shared.domain import Frame, Image, Track
from shared.errors import InternalError
from shared.report import FindingPart
from vision.common.seams import FrameSource
from vision.seeing.marks import Marks
from vision.telling.analysis import Analysis
from vision.telling.faces import Part
from vision.telling.heads import HeadHider, everyone
from vision.telling.overlay import draw_marks, flag_picture, mark_points, points_at
from vision.telling.paths import like, path_picture, timed

LONG_SIDE_PX = 900
JPEG_QUALITY = 85
#: How far from a flag's moment, in s, its frame may lie: a frame of the slowest clip that is judged.
NEAR_S = 0.06
#: Room around the person, as a share of their longer side in the picture: limbs and words stay in it.
ROOM = 0.35


@dataclass(frozen=True)
class Shot:
    """A picture to be made: of which moment (s), and what is drawn on its frame."""

    time_s: float
    draw: Callable[[Image], Image]


def flag_pictures(
    source: FrameSource, analysis: Analysis, show_faces: bool = False, watch: bool = False
) -> dict[tuple[str, int | None], bytes]:
    """JPEG pictures of the flags with a moment in this clip, by (check, repetition; None for the set).

    watch: of what is to be watched as well. The part with the person is shown, so that limbs and words are
    large. Each frame is read once, by a seek. A flag whose frame cannot be decoded has no picture.

    Raises
    ------
    ClipError : the clip cannot be read any more. InternalError : a picture cannot be encoded.
    """
    report = analysis.report
    found = [*report.flags(), *(f for f in report.findings if watch and f.verdict == "watch")]
    flags = [f for f in found if f.clip in (None, analysis.clip.file)]
    shots = [(f, shot) for f in flags if (shot := shot_of(analysis, f)) is not None]
    hider = None if show_faces else hider_for(analysis)
    pictures: dict[tuple[str, int | None], bytes] = {}
    frames: dict[float, Frame | None] = {}
    for finding, shot in sorted(shots, key=lambda pair: pair[1].time_s):
        if shot.time_s not in frames:
            frames = {shot.time_s: frame_near(source, shot.time_s)}  # one picture in memory at a time
        frame = frames[shot.time_s]
        if frame is not None:
            pictures[finding.check, finding.rep] = jpeg(taken(frame, analysis, shot, hider))
    return pictures


def shot_of(analysis: Analysis, finding: FindingPart, beside: bool = True) -> Shot | None:
    """How to picture a finding; None without a moment. beside: what took time beside the best repetition."""
    if analysis.track is None:
        return None
    stretch = timed(analysis, finding)
    if stretch is not None:
        other = like(analysis, stretch) if beside else None
        return Shot(stretch.middle_s, lambda image: path_picture(image, analysis, stretch, other))
    if finding.time_s is None:
        return None
    track = measured_on(analysis, finding) or analysis.track
    return Shot(finding.time_s, lambda image: flag_picture(image, finding, track, marks_of(analysis)))


def taken(
    frame: Frame,
    analysis: Analysis,
    shot: Shot,
    hider: HeadHider | None,
    part: Part | None = None,
    long_side: int = LONG_SIDE_PX,
) -> Image:
    """The picture of a shot from its frame: heads hidden, drawn on, cut to the part with person and machine.

    long_side: px of the clip's whole picture, at most; part: rows and columns of it to show instead of those
    of the moment.
    """
    image = fit(frame.image, long_side)
    rows, columns = part or part_shown(analysis, shot.time_s, width=image.shape[1], height=image.shape[0])
    if hider is not None:
        image = hider.apply(image, frame.time_s, (rows, columns))
    drawn = shot.draw(image)
    changed = (drawn != image).any(axis=2)
    return drawn[reaching(rows, changed.any(axis=1)), reaching(columns, changed.any(axis=0))]


def measured_on(analysis: Analysis, finding: FindingPart) -> Track | None:
    """The track that gave a finding's value; the person's own where no signal of one did."""
    signal = next((spec.signal for spec in analysis.exercise.checks if spec.id == finding.check), None)
    return analysis.tracks.get(signal or "", analysis.track)


def part_shown(analysis: Analysis, time_s: float, width: int, height: int) -> tuple[slice, slice]:
    """Rows and columns of a picture of that size (px) that hold person and marks; all where none is known."""
    if analysis.track is None:
        return slice(0, height), slice(0, width)
    scale = width / analysis.clip.width
    found = points_at(analysis.track, time_s, scale) | mark_points(marks_of(analysis), time_s, scale)
    if not found:
        return slice(0, height), slice(0, width)
    low, high = np.min(list(found.values()), axis=0), np.max(list(found.values()), axis=0)
    room = ROOM * float(np.max(high - low))
    left, top = (max(0, int(v - room)) for v in low)
    right, bottom = (min(most, int(v + room) + 1) for v, most in zip(high, (width, height), strict=True))
    if right <= left or bottom <= top:
        return slice(0, height), slice(0, width)
    return slice(top, bottom), slice(left, right)


def reaching(part: slice, drawn: np.ndarray) -> slice:
    """The part of rows or columns widened to hold those that were drawn on, True in ``drawn``."""
    at = np.flatnonzero(drawn)
    return slice(min(part.start, int(at[0])), max(part.stop, int(at[-1]) + 1)) if len(at) else part


def marks_picture(source: FrameSource, analysis: Analysis, show_faces: bool = False) -> bytes | None:
    """A JPEG of the still in which the first mark was given, every mark on it; None without marks."""
    marks = marks_of(analysis)
    if not marks:
        return None
    time_s = next(iter(marks.values())).point.time_s
    frame = next(source.frames(time_s), None)
    if frame is None:
        return None
    image = fit(frame.image, LONG_SIDE_PX)
    if not show_faces:
        part = part_shown(analysis, time_s, width=image.shape[1], height=image.shape[0])
        image = hider_for(analysis).apply(image, frame.time_s, part)
    scale = image.shape[1] / analysis.clip.width
    return jpeg(draw_marks(image, marks, time_s=frame.time_s, scale=scale, named=True))


def marks_of(analysis: Analysis) -> Marks:
    """The followed marks of an analysis; none where nobody was found."""
    return {} if analysis.machine is None else analysis.machine.marks


def hider_for(analysis: Analysis) -> HeadHider:
    """The head hider of an analysed clip."""
    return HeadHider(everyone(analysis.looks), analysis.subject, (analysis.clip.width, analysis.clip.height))


def frame_near(source: FrameSource, time_s: float) -> Frame | None:
    """The frame closest to a moment (s), at most NEAR_S away."""
    best: Frame | None = None
    for frame in source.frames(max(0.0, time_s - NEAR_S), time_s + NEAR_S):
        if best is not None and abs(frame.time_s - time_s) >= abs(best.time_s - time_s):
            break
        best = frame
    return best


def fit(image: Image, long_side: int) -> Image:
    """The picture, made smaller where its long side is over that many px; both sides even."""
    height, width = image.shape[:2]
    scale = min(1.0, long_side / max(height, width))
    size = (max(2, round(width * scale / 2) * 2), max(2, round(height * scale / 2) * 2))
    if size == (width, height):
        return image
    return np.asarray(cv2.resize(image, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def jpeg(image: Image) -> bytes:
    """A picture (H, W, 3) as a JPEG; InternalError where it cannot be encoded."""
    done, data = cv2.imencode(
        ".jpg", cv2.cvtColor(image, cv2.COLOR_RGB2BGR), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY]
    )
    if not done:
        raise InternalError("The picture of a flag could not be encoded; the clip is left as it is.")
    return bytes(data)
