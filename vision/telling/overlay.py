"""Drawing on a picture: limbs, the measured angle, a plumb line, words. Each returns a copy.

Strokes have a dark rim, so that they show on any ground, and widths go with the picture's size.
Colours are from the palette of Okabe and Ito (2008), which colour-blind people can tell apart.
"""

from __future__ import annotations

from collections.abc import Mapping

import cv2
import numpy as np

from shared.domain import Floats, Image, Track, Unit
from shared.keypoints import BONES, KEYPOINTS, Side
from shared.report import FindingPart
from vision.common.prompts import for_member, number
from vision.seeing.marks import Marks

Point = tuple[float, float]
Colour = tuple[int, int, int]
RIM: Colour = (20, 20, 24)
NEAR: Colour = (86, 180, 233)
FAR: Colour = (170, 170, 175)
MEASURED: Colour = (240, 228, 66)
MARKED: Colour = (213, 94, 0)
TEXT: Colour = (255, 255, 255)
#: A measured value this close to a line's lean, in degrees, was measured from the vertical.
SAME_LEAN_DEG = 3.0
_SHIFT = 4
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
            _line(out, points[a], points[b], NEAR if bold else FAR, width)
            for end in (points[a], points[b]):
                _dot(out, end, NEAR if bold else FAR, 1.1 * width)
    return out


def draw_angle(image: Image, a: Point, vertex: Point, b: Point, text: str, reflex: bool = False) -> Image:
    """The angle at ``vertex`` (px): two sides, an arc between them, the number across from it.

    reflex: the angle meant is the one past 180 degrees.
    """
    out = image.copy()
    for end in (a, b):
        _line(out, vertex, end, MEASURED, 1.2 * stroke(image))
    centre, first, second = np.array(vertex), np.array(a), np.array(b)
    radius = 0.4 * min(np.linalg.norm(first - centre), np.linalg.norm(second - centre))
    start = np.arctan2(*(first - centre)[::-1])
    sweep = (np.arctan2(*(second - centre)[::-1]) - start + np.pi) % (2 * np.pi) - np.pi
    if reflex:
        sweep -= np.copysign(2 * np.pi, sweep)
    turns = start + sweep * np.linspace(0, 1, 25)
    arc = centre + radius * np.stack([np.cos(turns), np.sin(turns)], axis=1)
    _polyline(out, arc, MEASURED, 0.7 * stroke(image))
    _dot(out, vertex, MEASURED, 1.6 * stroke(image))
    middle = start + sweep / 2
    away = np.array([np.cos(middle), np.sin(middle)])
    return label(out, _tuple(centre), text, -away * (stroke(image) + 2.2 * text_size(image)))


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
        _line(out, _tuple(start + up * along), _tuple(start + up * (along + dash)), TEXT, 0.7 * stroke(image))
    _line(out, foot, head, MEASURED, 1.2 * stroke(image))
    _dot(out, foot, MEASURED, 1.6 * stroke(image))
    side = 1.0 if float((end - start) @ np.array([-up[1], up[0]])) <= 0 else -1.0
    middle = _tuple(start + 0.5 * up * float(np.linalg.norm(end - start)))
    return label(out, middle, text, np.array([side * 2.8 * text_size(image), 0.0]))


def draw_gap(image: Image, a: Point, b: Point, text: str) -> Image:
    """The line between two points (px), for lengths, with the number beside it."""
    out = image.copy()
    _line(out, a, b, MEASURED, 1.2 * stroke(image))
    for end in (a, b):
        _dot(out, end, MEASURED, 1.6 * stroke(image))
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
    return {name: _tuple(at * scale) for name, at in places.items() if not bool(np.isnan(at).any())}


def draw_shift(image: Image, now: Point, from_x: float, text: str) -> Image:
    """A point (px) and how far it moved sideways from a dashed upright at ``from_x``, with the number."""
    out = image.copy()
    dash, reach = 3.0 * stroke(image), 4.0 * text_size(image)
    for y in np.arange(now[1] - reach, now[1] + reach, 2 * dash):
        _line(out, (from_x, float(y)), (from_x, float(y + dash)), TEXT, 0.7 * stroke(image))
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
        usual = np.nanmedian(_lean_deg(track.xy(names[0]), track.xy(names[1])))
        lean = float(_lean_deg(np.array(low), np.array(high)))
        return draw_plumb(out, low, high, text, _reference_deg(lean, float(usual), finding.measured))
    return draw_gap(out, ends[0], ends[1], text) if len(ends) == 2 else out


def _came_from(finding: FindingPart, track: Track, now_x: float, scale: float) -> float:
    """Where in the picture (px) a moved point was: of the two places that far off, the more usual one."""
    per_unit = 1.0 / track.cm_per_px if finding.unit == "cm" and track.cm_per_px else track.trunk_px
    moved = (finding.measured or 0.0) * per_unit * scale
    usual = float(np.nanmedian(track.xy(finding.points[0])[:, 0])) * scale
    return min((now_x - moved, now_x + moved), key=lambda x: abs(x - usual))


def _lean_deg(foot: Floats, head: Floats) -> Floats:
    """Lean to the right of upright, in degrees, of lines (..., 2) to (..., 2)."""
    along = head - foot
    return np.asarray(np.degrees(np.arctan2(along[..., 0], -along[..., 1])))


def _reference_deg(lean: float, usual: float, measured: float | None) -> float:
    """What a measured lean was compared with: the vertical, or the set's own usual lean.

    A value that is not the lean itself is a change from elsewhere: of the two lines that far away,
    the one nearer to the usual lean.
    """
    if measured is None or abs(abs(lean) - abs(measured)) <= SAME_LEAN_DEG:
        return 0.0
    return min((lean - measured, lean + measured), key=lambda deg: abs(deg - usual))


def points_at(track: Track, time_s: float, scale: float) -> dict[str, Point]:
    """Known points at a moment, in px of a picture ``scale`` times the clip's size.

    Between two samples of the track the points are interpolated; where one of them is unknown, or
    outside the track's time, the nearest sample counts, up to one sample away.
    """
    at = (time_s - float(track.time_s[0])) * track.rate_hz
    low = int(np.clip(np.floor(at), 0, len(track.time_s) - 1))
    high = min(low + 1, len(track.time_s) - 1)
    if abs(at - np.clip(at, 0, len(track.time_s) - 1)) > 1:
        return {}
    share = float(np.clip(at - low, 0, 1))
    first, second = track.points_px[low], track.points_px[high]
    mixed = first + share * (second - first)
    values = np.where(np.isnan(mixed), first if share < 0.5 else second, mixed) * scale
    known = {
        name: _tuple(values[i]) for i, name in enumerate(KEYPOINTS) if not bool(np.isnan(values[i]).any())
    }
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


def label(image: Image, at: Point, text: str, offset: Floats) -> Image:
    """Words on a dark plate whose middle lies at ``at`` plus ``offset`` (px), kept in the picture."""
    if not text:
        return image
    out = image.copy()
    size = text_size(image)
    width, height = text_width(text, size), 1.5 * size
    x = np.clip(
        at[0] + offset[0] - width / 2, 0.3 * size, max(0.3 * size, image.shape[1] - width - 0.3 * size)
    )
    y = np.clip(at[1] + offset[1] - height / 2, 0, max(0, image.shape[0] - height))
    plate(out, (float(x) - 0.3 * size, float(y)), (width + 0.6 * size, height), 0.75)
    write(out, (float(x), float(y) + 1.1 * size), text, size)
    return out


def plate(image: Image, corner: Point, size: tuple[float, float], strength: float) -> None:
    """Darken a rectangle (px) in place; strength 1 makes it opaque."""
    left, top = max(0, round(corner[0])), max(0, round(corner[1]))
    part = image[top : max(0, round(corner[1] + size[1])), left : max(0, round(corner[0] + size[0]))]
    part[:] = (part * (1 - strength) + np.array(RIM) * strength).astype(np.uint8)


def write(image: Image, baseline: Point, text: str, size: float, colour: Colour = TEXT) -> None:
    """Words in place, from the left end of the baseline (px); size: height of a line's letters in px."""
    at = (round(baseline[0]), round(baseline[1]))
    cv2.putText(image, text, at, colour, cv2.FontFace("sans"), round(size), 500)


def text_width(text: str, size: float) -> float:
    """Width of words in px."""
    box = cv2.getTextSize((0, 0), text, (0, 0), cv2.FontFace("sans"), round(size), 500)
    return float(box[2])


def stroke(image: Image) -> float:
    """Width of a limb's stroke in px: one part in 130 of the short side, at least 2."""
    return float(max(2.0, min(image.shape[:2]) / 130))


def text_size(image: Image) -> float:
    """Height of letters in px: one part in 22 of the short side, at least 12."""
    return float(max(12.0, min(image.shape[:2]) / 22))


def _tuple(xy: Floats) -> Point:
    return float(xy[0]), float(xy[1])


def _line(image: Image, a: Point, b: Point, colour: Colour, width: float) -> None:
    _polyline(image, np.array([a, b]), colour, width)


def _polyline(image: Image, points: Floats, colour: Colour, width: float) -> None:
    fixed = np.round(np.clip(points, -30000, 30000) * (1 << _SHIFT)).astype(np.int32).reshape(1, -1, 2)
    for paint, wide in ((RIM, width + max(2.0, 0.6 * width)), (colour, width)):
        cv2.polylines(image, list(fixed), False, paint, max(1, round(wide)), cv2.LINE_AA, _SHIFT)


def _dot(image: Image, at: Point, colour: Colour, radius: float) -> None:
    x, y = (min(max(round(v * (1 << _SHIFT)), -(1 << 19)), 1 << 19) for v in at)
    for paint, wide in ((RIM, radius + max(1.0, 0.3 * radius)), (colour, radius)):
        cv2.circle(image, (x, y), round(wide * (1 << _SHIFT)), paint, -1, cv2.LINE_AA, _SHIFT)
