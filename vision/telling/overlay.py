"""Drawing on a picture: limbs, the measured angle, a plumb line, a length. Each returns a copy."""

from __future__ import annotations

from collections.abc import Mapping

import cv2
import numpy as np

from shared.domain import Floats, Image, Track, Unit
from shared.keypoints import BONES, KEYPOINTS, Side
from shared.report import FindingPart
from vision.common.prompts import for_member
from vision.common.quantities import number
from vision.seeing.marks import Marks
from vision.telling.strokes import (
    FAR,
    MARKED,
    MEASURED,
    NEAR,
    RIM,
    TEXT,
    Point,
    dot,
    label,
    line,
    pair,
    polyline,
    stroke,
    text_size,
)

#: A measured value this close to a line's lean, in degrees, was measured from the vertical.
SAME_LEAN_DEG = 3.0
_UNITS: dict[Unit, str] = {
    "deg": "°", "s": " s", "cm": " cm", "trunk_fraction": " trunk lengths", "%": " %", "reps": "",
    "ratio": " %",
}  # fmt: skip


def draw_limbs(image: Image, points: Mapping[str, Point], near: Side | None) -> Image:
    """Limbs between the points (px) that are known; the near side on top, bold and blue.

    near: None draws both sides alike, for front and rear views.
    """
    out = image.copy()
    for a, b in sorted(BONES, key=lambda bone: bone[0].startswith(str(near))):
        if a in points and b in points:
            bold = near is None or a.startswith(near)
            width = stroke(image) * (1.0 if bold else 0.6)
            line(out, points[a], points[b], NEAR if bold else FAR, width)
            for end in (points[a], points[b]):
                dot(out, end, NEAR if bold else FAR, 1.1 * width)
    return out


def draw_angle(image: Image, a: Point, vertex: Point, b: Point, text: str, reflex: bool = False) -> Image:
    """The angle at ``vertex`` (px): two sides, an arc between them, the number across from it.

    reflex: the angle meant is the one past 180 degrees.
    """
    out = image.copy()
    for end in (a, b):
        line(out, vertex, end, MEASURED, 1.2 * stroke(image))
    centre, first, second = np.array(vertex), np.array(a), np.array(b)
    radius = 0.4 * min(np.linalg.norm(first - centre), np.linalg.norm(second - centre))
    start = np.arctan2(*(first - centre)[::-1])
    sweep = (np.arctan2(*(second - centre)[::-1]) - start + np.pi) % (2 * np.pi) - np.pi
    if reflex:
        sweep -= np.copysign(2 * np.pi, sweep)
    turns = start + sweep * np.linspace(0, 1, 25)
    arc = centre + radius * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    polyline(out, arc, MEASURED, 0.7 * stroke(image))
    dot(out, vertex, MEASURED, 1.6 * stroke(image))
    middle = start + sweep / 2
    away = np.array([np.cos(middle), np.sin(middle)])
    return label(out, pair(centre), text, -away * (stroke(image) + 2.2 * text_size(image)))


def draw_plumb(image: Image, foot: Point, head: Point, text: str, reference_deg: float = 0.0) -> Image:
    """The line from foot to head (px), a dashed line from the foot to compare with, and the number.

    reference_deg: the dashed line's lean to the right of upright; 0 is a plumb line.
    """
    out = image.copy()
    start, end = np.array(foot), np.array(head)
    lean = np.radians(reference_deg)
    up = np.array([np.sin(lean), -np.cos(lean)])
    dash = 3.0 * stroke(image)
    for along in np.arange(0.0, 1.25 * float(np.linalg.norm(end - start)), 2 * dash):
        line(out, pair(start + up * along), pair(start + up * (along + dash)), TEXT, 0.7 * stroke(image))
    line(out, foot, head, MEASURED, 1.2 * stroke(image))
    dot(out, foot, MEASURED, 1.6 * stroke(image))
    side = 1.0 if float((end - start) @ np.array([-up[1], up[0]])) <= 0 else -1.0
    middle = pair(start + 0.5 * up * float(np.linalg.norm(end - start)))
    return label(out, middle, text, np.array([side * 2.8 * text_size(image), 0.0]))


def draw_gap(image: Image, a: Point, b: Point, text: str) -> Image:
    """The line between two points (px), for lengths, with the number beside it."""
    out = image.copy()
    line(out, a, b, MEASURED, 1.2 * stroke(image))
    for end in (a, b):
        dot(out, end, MEASURED, 1.6 * stroke(image))
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    return label(out, middle, text, np.array([0.0, -1.6 * text_size(image)]))


def draw_marks(image: Image, marks: Marks, time_s: float, scale: float, named: bool = False) -> Image:
    """A ring at each mark that is known at the moment; scale: px of this picture a px of the clip."""
    out = image.copy()
    for name, at in mark_points(marks, time_s, scale).items():
        for colour, width in ((RIM, 2.2), (MARKED, 1.0)):
            centre = (round(at[0]), round(at[1]))
            radius = round(2.4 * stroke(image))
            cv2.circle(out, centre, radius, colour, max(1, round(width * stroke(image) / 2)), cv2.LINE_AA)
        beside = 2.0 if name == "knee" else -2.0  # pivot and knee lie close together
        out = label(out, at, name, np.array([0.0, beside * text_size(image)])) if named else out
    return out


def mark_points(marks: Marks, time_s: float, scale: float) -> dict[str, Point]:
    """Marks that are known at a moment, in px of a picture ``scale`` times the clip's size."""
    places = {name: path.at(np.array([time_s]))[0] for name, path in marks.items()}
    return {name: pair(at * scale) for name, at in places.items() if not bool(np.isnan(at).any())}


def draw_shift(image: Image, now: Point, from_x: float, text: str) -> Image:
    """A point (px) and how far it moved sideways from a dashed upright at ``from_x``, with the number."""
    out = image.copy()
    dash, reach = 3.0 * stroke(image), 4.0 * text_size(image)
    for y in np.arange(now[1] - reach, now[1] + reach, 2 * dash):
        line(out, (from_x, float(y)), (from_x, float(y + dash)), TEXT, 0.7 * stroke(image))
    return draw_gap(out, (from_x, now[1]), now, text)


def flag_picture(image: Image, finding: FindingPart, track: Track, marks: Marks | None = None) -> Image:
    """The limbs at the finding's moment, and what was measured, on a picture of any even scale.

    finding.points: three points, an angle at the middle one; two, a line against the vertical or
    against its usual lean (degrees), or a length; one, how far it moved along the picture from a dashed
    upright; otherwise the limbs alone. Nothing measured is drawn where one of the points is not known; its
    number stands there only where it is fit for a member. marks: points of the machine, which may be named
    too.
    """
    if finding.time_s is None:
        return image.copy()
    scale = image.shape[1] / track.picture[0]
    points = points_at(track, finding.time_s, scale)
    out = draw_limbs(image, points, near_side(track))
    if marks:
        points |= mark_points(marks, finding.time_s, scale)
        out = draw_marks(out, marks, finding.time_s, scale)
    ends = [points[name] for name in finding.points if name in points]
    text = value_text(finding) if _for_both(finding) else ""
    if len(ends) < len(finding.points):
        return out
    if len(ends) == 1 and finding.points[0] in (marks or {}):
        return label(out, ends[0], text, np.array([0.0, -2.0 * text_size(image)]))
    if len(ends) == 1:
        return draw_shift(out, ends[0], _came_from(finding, track, ends[0][0], scale), text)
    if len(ends) == 3:
        return draw_angle(out, ends[0], ends[1], ends[2], text, (finding.measured or 0) > 180)
    if len(ends) == 2 and finding.unit == "deg":
        names = sorted(finding.points, key=lambda name: -points[name][1])
        low, high = points[names[0]], points[names[1]]
        lean = float(_lean_deg(np.array(low), np.array(high)))
        usual = lean + _usual_less_now(_lean_deg(track.xy(names[0]), track.xy(names[1])), track, finding)
        return draw_plumb(out, low, high, text, _reference_deg(lean, usual, finding.measured))
    return draw_gap(out, ends[0], ends[1], text) if len(ends) == 2 else out


def _came_from(finding: FindingPart, track: Track, now_x: float, scale: float) -> float:
    """Where in the picture (px) a moved point was: of the two places that far off, the more usual one."""
    per_unit = 1.0 / track.cm_per_px if finding.unit == "cm" and track.cm_per_px else track.trunk_px
    moved = (finding.measured or 0.0) * per_unit * scale
    usual = now_x + _usual_less_now(track.xy(finding.points[0])[:, 0], track, finding) * scale
    return min((now_x - moved, now_x + moved), key=lambda x: abs(x - usual))


def _usual_less_now(in_room: Floats, track: Track, finding: FindingPart) -> float:
    """By how much the set's median of values (T,) exceeds the one at the finding's moment.

    Values in the room: in the pictures it hangs on where the phone stood.
    """
    row = int(np.clip(np.searchsorted(track.time_s, finding.time_s or 0.0), 0, len(in_room) - 1))
    return float(np.nan_to_num(np.nanmedian(in_room) - in_room[row]))


def _lean_deg(foot: Floats, head: Floats) -> Floats:
    """Lean to the right of upright, in degrees, of lines (..., 2) to (..., 2)."""
    along = head - foot
    return np.asarray(np.degrees(np.arctan2(along[..., 0], -along[..., 1])))


def _reference_deg(lean: float, usual: float, measured: float | None) -> float:
    """What a measured lean was compared with: the vertical, or the set's own usual lean.

    A value that is not the lean itself is a change from elsewhere: of the two lines that far away,
    the one nearer to the usual lean.
    """
    if measured is None:
        return usual
    if abs(abs(lean) - abs(measured)) <= SAME_LEAN_DEG:
        return 0.0
    return min((lean - measured, lean + measured), key=lambda deg: abs(deg - usual))


def points_at(track: Track, time_s: float, scale: float, shown_s: float | None = None) -> dict[str, Point]:
    """Known points at a moment, in px of a picture ``scale`` times the clip's size.

    shown_s: as the picture of another moment shows these places, where the phone moved in between.
    Between two samples of the track the points are interpolated; where one of them is unknown, or
    outside the track's time, the nearest sample counts, up to one sample away.
    """
    at = (time_s - float(track.time_s[0])) * track.rate_hz
    low = int(np.clip(np.floor(at), 0, len(track.time_s) - 1))
    high = min(low + 1, len(track.time_s) - 1)
    if abs(at - np.clip(at, 0, len(track.time_s) - 1)) > 1:
        return {}
    share = float(np.clip(at - low, 0, 1))
    about = track.in_picture(slice(low, high + 1), shown_s)
    first, second = about[0], about[-1]
    mixed = first + share * (second - first)
    values = np.where(np.isnan(mixed), first if share < 0.5 else second, mixed) * scale
    known = {name: pair(values[i]) for i, name in enumerate(KEYPOINTS) if not bool(np.isnan(values[i]).any())}
    for part in {name.split("_", 1)[1] for name in KEYPOINTS if name.startswith("left_")}:
        if f"left_{part}" in known and f"right_{part}" in known:
            left, right = known[f"left_{part}"], known[f"right_{part}"]
            known[f"mid_{part}"] = ((left[0] + right[0]) / 2, (left[1] + right[1]) / 2)
    return known


def near_side(track: Track) -> Side | None:
    """The side to emphasise: none when the camera stands in front or behind."""
    return None if track.view.name in ("front", "rear") else track.near


def value_text(finding: FindingPart) -> str:
    """The measured value with its unit: ``172°``; empty when nothing was measured."""
    if finding.measured is None:
        return ""
    return f"{number(finding.measured, finding.unit)}{_UNITS[finding.unit]}"


def _for_both(finding: FindingPart) -> bool:
    """Whether its number is fit for the member too, who sees the same picture as the trainer."""
    known = finding.measured is not None and finding.uncertainty is not None
    return known and for_member(finding.measured or 0.0, finding.uncertainty or 0.0, finding.unit) is not None
