"""Hides everyone's head in a picture that leaves the tool; used after landmarking, never before.

No detector finds every bystander, so nothing is shown that is not the subject's own body, or in a still the
part about it with the machine: around that the picture is blurred past recognition always, heads near it
are covered by discs, and where the subject is not known the whole picture is blurred. In the part about the
machine a second detector looks for faces that no look found. Radii are generous: a hidden elbow costs less
than a face.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np

from shared.domain import Floats, Image, Landmarks
from shared.keypoints import BONES, HEAD, INDEX
from vision.telling.faces import Discs, Part, faces

#: How long, in s, a head found once stays hidden before and after.
HOLD_S = 0.3
#: The same for a head found again at its place, missed in between.
STILL_S = 2.0
#: A head lost on its way is hidden on the straight line to where one is found within this time, in
#: s, at no more than a brisk walk (m/s); the disc is widened, since nobody walks evenly.
LOST_S = 4.0
WALK_M_S = 2.0
LOST_WIDER = 1.4
#: The subject is known between two sightings no further apart than this, in s.
BRIDGE_S = 0.6
#: Slack in s at the first and last sighting.
EDGE_S = 0.12
#: Usual lengths of an adult's segments in m (Winter 2009, after Drillis and Contini 1966, 1.72 m).
_LENGTHS_M = {
    ("mid_shoulder", "mid_hip"): 0.50,
    ("left_hip", "left_knee"): 0.42,
    ("right_hip", "right_knee"): 0.42,
    ("left_knee", "left_ankle"): 0.42,
    ("right_knee", "right_ankle"): 0.42,
}
#: Head radius in m, hair and landmark error included; width of a head.
HEAD_M = 0.19
HEAD_WIDTH_M = 0.16
#: From the mid-shoulder to the middle of the head, along the trunk, in m.
_NECK_M = 0.25
#: Half-width in m of what is shown around each part.
_LIMB_M = {
    "shoulder": 0.11,
    "elbow": 0.10,
    "wrist": 0.11,
    "hip": 0.15,
    "knee": 0.13,
    "ankle": 0.11,
    "foot": 0.10,
}
_HAND = ("wrist", "index", "pinky", "thumb")
_FOOT = ("ankle", "heel", "foot_index")
_TRUNK = ("left_shoulder", "right_shoulder", "right_hip", "left_hip")
#: Smallest blur cell as a share of the picture's long side.
_MIN_CELL = 1 / 48


def everyone(looks: Sequence[Landmarks]) -> Landmarks:
    """All people found by any of the looks at one clip, side by side in each frame."""
    frame = np.unique(np.concatenate([look.frame for look in looks]))
    rows = [np.searchsorted(frame, look.frame) for look in looks]

    def spread(name: str) -> Floats:
        parts = []
        for look, at in zip(looks, rows, strict=True):
            values: Floats = getattr(look, name)
            part = np.full((len(frame), *values.shape[1:]), np.nan)
            part[at] = values
            parts.append(part)
        return np.concatenate(parts, axis=1)

    time_s = np.empty(len(frame))
    for look, at in zip(looks, rows, strict=True):
        time_s[at] = look.time_s
    arrays = {name: spread(name) for name in ("image_px", "world_m", "visibility", "presence")}
    return Landmarks(frame=frame, time_s=time_s, model=looks[0].model, **arrays)


class HeadHider:
    """Hides heads at any moment of one clip.

    Parameters
    ----------
    people : everyone found, P slots; slots need not hold the same person from frame to frame.
    subject : the person judged, one slot.
    size : (width, height) in pixels of the upright picture the landmarks are given in.
    """

    def __init__(self, people: Landmarks, subject: Landmarks, size: tuple[int, int]):
        self._size = size
        rows = [_heads(people.image_px[i, :, :, :2]) for i in range(len(people.time_s))]
        self._discs = np.array(
            [(t, *disc) for t, discs in zip(people.time_s, rows, strict=True) for disc in discs]
        ).reshape(-1, 4)
        self._sweeps = _sweeps(people.time_s, rows)
        self._lost = _lost(people.time_s, rows)
        known = ~np.isnan(subject.image_px[:, 0, :, 0]).any(axis=1)
        self._subject_s = subject.time_s[known]
        self._subject = subject.image_px[known, 0, :, :2]
        scales = [_px_per_m(points) for points in self._subject]
        self._px_per_m = float(np.median(scales)) if scales else 0.0
        radii = [HEAD_M * self._px_per_m, *self._discs[:, 3]]
        widest = float(np.percentile(radii, 95)) / HEAD_M * HEAD_WIDTH_M
        self._cell = max(widest / 2, max(size) * _MIN_CELL)

    def apply(self, image: Image, time_s: float, machine: Part | None = None) -> Image:
        """A copy of the picture, (H, W, 3), with heads hidden; it may be scaled evenly.

        The picture at time_s (s) of the clip the landmarks came from. machine: rows and columns of it in
        which pads, lever and stack stay sharp too.
        """
        body, heads = self.masks((image.shape[1], image.shape[0]), time_s)
        if machine is not None and body.any():
            body[machine] = 255
            for x, y, radius in faces(image, machine):
                cv2.circle(heads, (round(x), round(y)), round(radius), 255, -1)
            body[heads > 0] = 0
        scale = image.shape[1] / self._size[0]
        hidden = _blurred(image, self._cell * scale)
        cv2.copyTo(image, body, hidden)
        if heads.any():
            cv2.copyTo(_blurred(image, 4 * self._cell * scale), heads, hidden)
        return hidden

    def masks(self, size: tuple[int, int], time_s: float) -> tuple[Image, Image]:
        """What is shown and what is covered, two masks (H, W) of 0 and 255, for a picture of that size.

        Everything outside the first mask is blurred; the second lies on top of the first.
        """
        scale = size[0] / self._size[0]
        body: Image = np.zeros((size[1], size[0]), np.uint8)
        heads: Image = np.zeros_like(body)
        poses = self._subject_at(time_s)
        if len(poses):
            _draw_body(body, poses[0] * scale, self._px_per_m * scale)
        discs = [disc for pose in poses for disc in _heads(pose[None], self._px_per_m)]
        discs += [(float(x), float(y), float(r)) for x, y, r in self._held(time_s)]
        for x, y, radius in discs:
            cv2.circle(heads, _pixel((x, y), scale), max(1, round(radius * scale)), 255, -1)
        moving = (self._sweeps[:, 0] <= time_s) & (time_s <= self._sweeps[:, 1])
        for _, _, ax, ay, bx, by, radius in self._sweeps[moving]:
            width = max(1, round(2 * float(radius) * scale))
            cv2.line(heads, _pixel((ax, ay), scale), _pixel((bx, by), scale), 255, width)
        body[heads > 0] = 0
        return body, heads

    def _held(self, time_s: float) -> Floats:
        """Discs (K, 3) found about that moment, and those that were lost at it and found again."""
        since = self._discs[:, 0] - time_s
        near = self._discs[np.abs(since) <= HOLD_S, 1:]
        before = self._discs[(since < 0) & (since >= -STILL_S), 1:]
        after = self._discs[(since > 0) & (since <= STILL_S), 1:]
        apart = np.linalg.norm(before[:, None, :2] - after[None, :, :2], axis=2)
        still = before[(apart <= before[:, None, 2] / 2).any(axis=1)]
        lost = self._lost[(self._lost[:, 0] < time_s) & (time_s < self._lost[:, 1])]
        share = ((time_s - lost[:, 0]) / (lost[:, 1] - lost[:, 0]))[:, None]
        way = lost[:, 2:4] + share * (lost[:, 4:6] - lost[:, 2:4])
        return np.concatenate([near, still, np.column_stack([way, lost[:, 6]])])

    def _subject_at(self, time_s: float) -> Floats:
        """Poses (K, 33, 2): the one of the moment, then those it lies between; none when not known."""
        after = int(np.searchsorted(self._subject_s, time_s))
        sides = [i for i in (after - 1, after) if 0 <= i < len(self._subject_s)]
        poses, times = self._subject[sides], self._subject_s[sides]
        if len(sides) == 2 and times[1] - times[0] <= BRIDGE_S:
            share = (time_s - times[0]) / (times[1] - times[0])
            return np.stack([poses[0] + share * (poses[1] - poses[0]), *poses])
        return np.asarray(poses[np.abs(times - time_s) <= EDGE_S][:1])


def _point(points: Floats, name: str) -> Floats:
    if name.startswith("mid_"):
        left, right = INDEX[f"left_{name[4:]}"], INDEX[f"right_{name[4:]}"]
        return np.asarray((points[left] + points[right]) / 2)
    return np.asarray(points[INDEX[name]])


def _px_per_m(points: Floats) -> float:
    """Pixels a metre of one person (33, 2), from the segment that is foreshortened least."""
    return max(
        float(np.linalg.norm(_point(points, a) - _point(points, b))) / length
        for (a, b), length in _LENGTHS_M.items()
    )


def _heads(people: Floats, px_per_m: float | None = None) -> Discs:
    """Discs (x, y, radius) that cover the heads of people (P, 33, 2); slots of NaN give none.

    Two discs a head: one about the ears, wide enough for every head landmark, one where the
    shoulders say it is; they coincide unless one of them is wrong.
    """
    discs = []
    for points in people:
        if np.isnan(points).any():
            continue
        scale = px_per_m or _px_per_m(points)
        head = points[[INDEX[name] for name in HEAD]]
        ears = _point(points, "mid_ear")
        reach = float(np.linalg.norm(head - ears, axis=1).max()) + 0.06 * scale
        radius = float(np.clip(reach, HEAD_M * scale, 1.6 * HEAD_M * scale))
        discs.append((float(ears[0]), float(ears[1]), radius))
        neck = _point(points, "mid_shoulder")
        up = neck - _point(points, "mid_hip")
        length = float(np.linalg.norm(up))
        above = neck + (up / length if length > 0 else np.array([0.0, -1.0])) * _NECK_M * scale
        discs.append((float(above[0]), float(above[1]), 0.8 * HEAD_M * scale))
    return discs


def _sweeps(time_s: Floats, rows: list[Discs]) -> Floats:
    """Bands (K, 7): from s, to s, x, y, x, y, radius, over the way of each head between two looks.

    Slots do not say who is who: every disc is joined with every disc it could have moved to.
    """
    bands = [
        (t0, t1, *a[:2], *b[:2], max(a[2], b[2]))
        for (t0, first), (t1, second) in pairwise(zip(time_s, rows, strict=True))
        if t1 - t0 <= BRIDGE_S
        for a in first
        for b in second
        if _may_be_one(a, b)
    ]
    return np.array(bands, dtype=float).reshape(-1, 7)


def _lost(time_s: Floats, rows: list[Discs]) -> Floats:
    """The same, (K, 7), for heads lost in one look and found again later, as near as a walk takes."""
    found, lost = [], []
    for i, (t, discs) in enumerate(zip(time_s, rows, strict=True)):
        before = rows[i - 1] if i > 0 else []
        after = rows[i + 1] if i + 1 < len(rows) else []
        found += [(t, *d) for d in discs if not any(_may_be_one(d, b) for b in before)]
        lost += [(t, *d) for d in discs if not any(_may_be_one(d, b) for b in after)]
    bands = [
        (a[0], b[0], *a[1:3], *b[1:3], LOST_WIDER * max(a[3], b[3]))
        for a in lost
        for b in found
        if 0 < b[0] - a[0] <= LOST_S
        and np.hypot(b[1] - a[1], b[2] - a[2]) <= a[3] * (2.5 + WALK_M_S / HEAD_M * (b[0] - a[0]))
    ]
    return np.array(bands, dtype=float).reshape(-1, 7)


def _may_be_one(a: tuple[float, float, float], b: tuple[float, float, float]) -> bool:
    return float(np.hypot(b[0] - a[0], b[1] - a[1])) <= 2.5 * max(a[2], b[2])


def _draw_body(mask: Image, points: Floats, px_per_m: float) -> None:
    """Fill the region of the body (33, 2) in a mask, in place."""
    for a, b in BONES:
        width = max(_half_width(a), _half_width(b))
        _capsule(mask, points, a=a, b=b, radius=width * px_per_m)
    for side in ("left", "right"):
        for parts in (_HAND, _FOOT):
            for a, b in pairwise(parts):
                _capsule(mask, points, a=f"{side}_{a}", b=f"{side}_{b}", radius=_LIMB_M["foot"] * px_per_m)
    trunk = np.array([_pixel(_point(points, name)) for name in _TRUNK], np.int32)
    cv2.fillConvexPoly(mask, cv2.convexHull(trunk), 255)
    _capsule(mask, points, a="mid_shoulder", b="mid_hip", radius=_LIMB_M["hip"] * px_per_m)


def _half_width(name: str) -> float:
    return next((width for part, width in _LIMB_M.items() if part in name), _LIMB_M["foot"])


def _capsule(mask: Image, points: Floats, a: str, b: str, radius: float) -> None:
    start, end = _pixel(_point(points, a)), _pixel(_point(points, b))
    cv2.line(mask, start, end, 255, max(1, round(2 * radius)))


def _pixel(xy: Floats | tuple[float, float], scale: float = 1.0) -> tuple[int, int]:
    """Whole pixel, kept within what the drawing functions can take."""
    x, y = (min(max(round(float(v) * scale), -16000), 16000) for v in xy)
    return x, y


def _blurred(image: Image, cell: float) -> Image:
    """The picture averaged over cells of that many pixels and smoothed between them."""
    height, width = image.shape[:2]
    cells = (max(1, round(width / cell)), max(1, round(height / cell)))
    small = cv2.resize(image, cells, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(small, (width, height), interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
