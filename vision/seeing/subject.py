"""Which of the people in the picture is on the machine, and where that person is in each frame.

A survey of the clip at five frames a second finds everyone. Poses that follow each other at one
place form a trail; the subject is the trail of the person who stays and moves cyclically, or the
one a user pointed at. Trails are joined over a gap only where place and size agree, and each join
is noted: two people are never stitched into one silently.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linear_sum_assignment

from shared.domain import Clip, Floats, Landmarks
from shared.errors import UsageError
from shared.keypoints import INDEX
from vision.common.geometry import distance
from vision.common.poses import SEATED_DROP, knee_drop, pose_distance, torso
from vision.common.seams import Box

SURVEY_STEP_S = 0.2
SURVEY_PEOPLE = 3
#: Two poses are one person when their points are closer than this many trunk lengths (median).
SAME_PERSON = 0.2
#: A trail goes on when the next pose lies within this many trunk lengths of where it was heading,
#: plus a step for each second since.
LINK_STEP = 0.4
LINK_SPEED_PER_S = 0.5
LINK_GAP_S = 1.0
#: Trails at one place are joined when centre and size agree within these.
JOIN_STEP = 0.6
JOIN_SIZE = 1.35
#: They may overlap by this share of the later one: a pose seen twice at a crossing is nobody new.
JOIN_OVERLAP = 0.15
#: A seated person's hips leave their place by no more than this many trunk lengths.
STAY_STEP = 0.5
#: All machines are sat on: who stands beside one counts for this much of who sits.
STANDING_WEIGHT = 1 / 3
_LIMBS = [
    INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("elbow", "wrist", "knee", "ankle")
]


@dataclass(frozen=True)
class SubjectPoint:
    """A pixel of the upright picture on the person to judge, at a moment (s)."""

    x: float
    y: float
    time_s: float = 0.0


@dataclass
class _Trail:
    """Survey rows and slots of one person, in time order."""

    rows: list[int] = field(default_factory=list)
    slots: list[int] = field(default_factory=list)
    joins: int = 0


@dataclass(frozen=True)
class Subject:
    """Where the subject is: times (M,), poses (M, 33, 2) px, torso centre (M, 2) px, trunk (M,) px.

    box: part of the picture that holds the subject throughout; near: everyone else who comes near, as
    times (K,) and poses (K, 33, 2) px; notes: joins, for the report.
    """

    time_s: Floats
    poses_px: Floats
    centre_px: Floats
    trunk_px: Floats
    box: Box
    near: tuple[tuple[Floats, Floats], ...]
    notes: tuple[str, ...] = ()


def find_subject(survey: Landmarks, clip: Clip, point: SubjectPoint | None = None) -> Subject | None:
    """The subject of a surveyed clip; None when nobody was found.

    Raises
    ------
    UsageError : ``point`` lies on nobody.
    """
    trails = _join(_trails(survey), survey)
    if not trails:
        return None
    if point is None:
        chosen = max(trails, key=lambda t: _score(t, survey))
    else:
        chosen = _at_point(trails, survey, point)
    return _subject(chosen, trails, survey, clip)


def _trails(survey: Landmarks) -> list[_Trail]:
    """Trails over the survey's rows, each row assigned at the least total cost."""
    _, trunk = torso(survey.image_px)
    trails: list[_Trail] = []
    for row, now in enumerate(survey.time_s):
        slots = _distinct(survey.image_px[row, ..., :2], trunk[row])
        live = [t for t in trails if now - survey.time_s[t.rows[-1]] <= LINK_GAP_S]
        cost = np.array([[_link_cost(t, survey, row, s, trunk) for t in live] for s in slots])
        linked: dict[int, _Trail] = {}
        if len(slots) and len(live):
            for i, j in zip(*linear_sum_assignment(np.minimum(cost, 1e3)), strict=True):
                if np.isfinite(cost[i, j]):
                    linked[slots[i]] = live[j]
        for slot in slots:
            if slot not in linked:
                linked[slot] = _Trail()
                trails.append(linked[slot])
            linked[slot].rows.append(row)
            linked[slot].slots.append(slot)
    return trails


def _distinct(poses: Floats, trunk: Floats) -> list[int]:
    """Slots that hold a person, without second poses of the same one; poses (P, 33, 2)."""
    kept: list[int] = []
    for slot in np.flatnonzero(~np.isnan(trunk)):
        if all(np.median(distance(poses[slot], poses[k])) > SAME_PERSON * trunk[k] for k in kept):
            kept.append(int(slot))
    return kept


def _link_cost(trail: _Trail, survey: Landmarks, row: int, slot: int, trunk: Floats) -> float:
    """Trunk lengths between a pose and where the trail was heading, inf where they cannot be one."""
    last = trail.rows[-1], trail.slots[-1]
    gap = float(survey.time_s[row] - survey.time_s[last[0]])
    heading = survey.image_px[last][:, :2]
    if len(trail.rows) > 1:
        before = trail.rows[-2], trail.slots[-2]
        past = float(survey.time_s[last[0]] - survey.time_s[before[0]])
        move = np.median(heading - survey.image_px[before][:, :2], axis=0)
        heading = heading + move * gap / past
    pose = survey.image_px[row, slot, :, :2]
    places = np.stack([heading, survey.image_px[last][:, :2]])
    step = float(pose_distance(pose, places).min() / trunk[last])
    size = abs(float(np.log(trunk[row, slot] / trunk[last])))
    return step + size if step < LINK_STEP + LINK_SPEED_PER_S * gap else np.inf


def _join(trails: list[_Trail], survey: Landmarks) -> list[_Trail]:
    """Join trails that follow each other at one usual place with one usual size, in time order."""
    joined: list[_Trail] = []
    for trail in trails:
        centre, trunk = _usual(trail, survey)
        for other in joined:
            place, size = _usual(other, survey)
            near = distance(centre, place) < JOIN_STEP * size
            later = [i for i, row in enumerate(trail.rows) if row > other.rows[-1]]
            follows = len(later) >= (1 - JOIN_OVERLAP) * len(trail.rows)
            if follows and near and 1 / JOIN_SIZE < trunk / size < JOIN_SIZE:
                other.rows += [trail.rows[i] for i in later]
                other.slots += [trail.slots[i] for i in later]
                other.joins += 1
                break
        else:
            joined.append(trail)
    return joined


def _usual(trail: _Trail, survey: Landmarks) -> tuple[Floats, float]:
    """Median torso centre (2,) px and trunk length (px) of a trail."""
    centre, trunk = torso(survey.image_px[trail.rows, trail.slots])
    return np.median(centre, axis=0), float(np.median(trunk))


def _score(trail: _Trail, survey: Landmarks) -> float:
    """Seconds stayed, times how much the limbs move about the torso, times size; less for who stands."""
    poses = survey.image_px[trail.rows, trail.slots]
    centre, trunk = torso(poses)
    size = float(np.median(trunk))
    stays = distance(centre, np.median(centre, axis=0)) < STAY_STEP * size
    if np.count_nonzero(stays) < 3:
        return 0.0
    relative = (poses[stays][:, _LIMBS, :2] - centre[stays][:, None, :]) / size
    spread = np.percentile(relative, 90, axis=0) - np.percentile(relative, 10, axis=0)
    motion = float(np.sort(np.linalg.norm(spread, axis=-1))[-3:].mean())
    seated = float(np.median(knee_drop(poses[stays]))) < SEATED_DROP * size
    return float(np.count_nonzero(stays)) * min(motion, 1.0) * size * (1.0 if seated else STANDING_WEIGHT)


def _at_point(trails: list[_Trail], survey: Landmarks, point: SubjectPoint) -> _Trail:
    """The trail whose pose lies nearest the point at the surveyed moment nearest to it."""
    best: tuple[float, _Trail] | None = None
    for trail in trails:
        times = survey.time_s[trail.rows]
        i = int(np.argmin(np.abs(times - point.time_s)))
        if abs(times[i] - point.time_s) > 2 * SURVEY_STEP_S + LINK_GAP_S:
            continue
        pose = survey.image_px[trail.rows[i], trail.slots[i], :, :2]
        gap = float(np.min(distance(pose, np.array([point.x, point.y]))) / torso(pose[None])[1][0])
        if gap < 0.5 and (best is None or gap < best[0]):
            best = gap, trail
    if best is None:
        raise UsageError(
            f"Nobody was found at {point.x:.0f},{point.y:.0f} at {point.time_s:.1f} s; "
            "point --subject at the middle of the person's trunk, in pixels of the upright picture."
        )
    return best[1]


def _subject(chosen: _Trail, trails: list[_Trail], survey: Landmarks, clip: Clip) -> Subject:
    poses = survey.image_px[chosen.rows, chosen.slots]
    centre, trunk = torso(poses)
    box = _box(poses, float(np.median(trunk)), clip)
    notes = []
    if chosen.joins:
        often = {1: "once", 2: "twice"}.get(chosen.joins, f"{chosen.joins} times")
        notes.append(
            f"The person was out of sight {often}; "
            "whoever was in the same place afterwards is taken to be them."
        )
    others = [t for t in trails if t is not chosen and len(t.rows) >= 2]
    return Subject(
        time_s=survey.time_s[chosen.rows],
        poses_px=poses[..., :2],
        centre_px=centre,
        trunk_px=trunk,
        box=box,
        near=tuple(
            (survey.time_s[t.rows], survey.image_px[t.rows, t.slots][..., :2])
            for t in others
            if _touches(t, survey, box)
        ),
        notes=tuple(notes),
    )


def _box(poses: Floats, trunk: float, clip: Clip) -> Box:
    """Everything the subject's points reached, less outliers, widened by 0.6 trunk lengths."""
    low = np.percentile(poses[..., :2].min(axis=1), 1, axis=0) - 0.6 * trunk
    high = np.percentile(poses[..., :2].max(axis=1), 99, axis=0) + 0.6 * trunk
    left, top = (max(0, int(v)) for v in low)
    right, bottom = min(clip.width, int(high[0]) + 1), min(clip.height, int(high[1]) + 1)
    if right - left < 32 or bottom - top < 32:
        return 0, 0, clip.width, clip.height
    return left, top, right, bottom


def _touches(trail: _Trail, survey: Landmarks, box: Box) -> bool:
    centre, trunk = torso(survey.image_px[trail.rows, trail.slots])
    left, top, right, bottom = box
    inside = (centre[:, 0] > left - trunk) & (centre[:, 0] < right + trunk)
    inside &= (centre[:, 1] > top - trunk) & (centre[:, 1] < bottom + trunk)
    return bool(inside.any())
