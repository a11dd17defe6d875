"""survey of a recording -> who sat on a machine, and when they repeated a movement there.

A sitting is one person's stay on one seat: seated poses at one place and of one size, until that seat was
seen empty for a while. Within a sitting the limbs' main way of moving is one signal; a bout is a run of its
swings. Bouts are coarse on purpose: they say where to cut, the check of the cut has the last word.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from shared.domain import Floats, Landmarks
from shared.keypoints import INDEX
from vision.common.geometry import distance, from_vertical
from vision.common.poses import sits, torso
from vision.measuring.signals.turning_points import turning_points

#: A seat is one place within this many trunk lengths, its person of one size within this ratio.
SAME_SEAT, SAME_SIZE = 0.6, 1.35
#: A seat that is seen without a seated person for so long, s, is taken by somebody anew.
AWAY_S = 3.0
#: Who is seen on a seat for less than this, s, only passed it.
SHORTEST_S = 4.0
#: A swing of the limbs is this large at least, in trunk lengths over all of them, and this large against the
#: usual one of its bout.
SWING, LIKE_SHARE = 0.35, 0.5
#: Within this share of a swing of one of its ends the limbs rest there.
REST_SHARE = 0.1
#: Nobody trains with a longer rest than this, s, at both ends of each repetition; where the rests are
#: shorter, so many swings at the edge beyond a longer one are no repetitions. Both chosen here.
REST_S, REACHES = 5.0, 3
#: A bout ends where nothing swings for longer than this, s: a longer pause is one between two sets.
PAUSE_S = 20.0
#: Fewer swings, there and back counted apart, are no bout: of two repetitions and a half.
FEWEST_SWINGS = 5
#: Who leans this far over, degrees from upright, sets up a seat and does not train on it; chosen here.
BENT_DEG = 45.0
#: The limbs' signal stands on this clock, s; over a longer gap they are not taken to have moved straight on.
CLOCK_S, GAP_S = 0.2, 1.0
_HIPS = [INDEX["left_hip"], INDEX["right_hip"]]
_SHOULDERS = [INDEX["left_shoulder"], INDEX["right_shoulder"]]
_LIMBS = [
    INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("elbow", "wrist", "knee", "ankle")
]


@dataclass
class Sitting:
    """One person's stay on a seat: rows and slots of the survey in time order, place (2,) px, trunk px."""

    place: Floats
    trunk: float
    rows: list[int] = field(default_factory=list)
    slots: list[int] = field(default_factory=list)
    away_since_s: float | None = None


@dataclass(frozen=True)
class _Swing:
    """One way of the limbs; size in trunk lengths."""

    start_s: float
    end_s: float
    size: float


@dataclass(frozen=True)
class Bout:
    """A run of swings of one sitting. sitting: its index; start_s, end_s: first and last turn, coarse.

    swings: how many, there and back counted apart.
    """

    sitting: int
    start_s: float
    end_s: float
    swings: int


def find_sittings(survey: Landmarks) -> list[Sitting]:
    """Everyone who sat somewhere for a while, in the order in which they sat down."""
    (centre, trunk), seated = torso(survey.image_px), sits(survey.image_px)
    sittings: list[Sitting] = []
    for row, now in enumerate(survey.time_s):
        live = [s for s in sittings if s.away_since_s is None or now - s.away_since_s < AWAY_S]
        taken: set[int] = set()
        for slot in np.flatnonzero(seated[row]):
            place, size = centre[row, slot], float(trunk[row, slot])
            one = next((s for s in live if id(s) not in taken and _same(s, place, size)), None)
            if one is None:
                one = Sitting(place, size)
                sittings.append(one)
            taken.add(id(one))
            one.rows.append(row)
            one.slots.append(int(slot))
            one.away_since_s = None
        for other in live:
            if id(other) not in taken and other.away_since_s is None:
                other.away_since_s = float(now)
    return [s for s in sittings if survey.time_s[s.rows[-1]] - survey.time_s[s.rows[0]] >= SHORTEST_S]


def _same(sitting: Sitting, place: Floats, size: float) -> bool:
    near = float(distance(place, sitting.place)) < SAME_SEAT * sitting.trunk
    return near and 1 / SAME_SIZE < size / sitting.trunk < SAME_SIZE


def find_bouts(survey: Landmarks, sittings: list[Sitting]) -> list[Bout]:
    """The bouts of all sittings, in time order."""
    found: list[Bout] = []
    for index, sitting in enumerate(sittings):
        for run in _runs(*_signal(survey, sitting)):
            bout = Bout(index, run[0].start_s, run[-1].end_s, len(run))
            if _bent_over(survey, sitting, bout):
                continue
            before = found[-1] if found else None
            if before is not None and before.sitting == index and bout.start_s - before.end_s <= PAUSE_S:
                # a limb was misread for a moment, or there was a short pause
                found[-1] = replace(before, end_s=bout.end_s, swings=before.swings + bout.swings)
            else:
                found.append(bout)
    return sorted(found, key=lambda bout: bout.start_s)


def _bent_over(survey: Landmarks, sitting: Sitting, bout: Bout) -> bool:
    """Whether most of a bout is done with the trunk leaning further over than anybody's who trains."""
    points = survey.image_px[sitting.rows, sitting.slots][..., :2]
    time_s = survey.time_s[sitting.rows]
    return mostly_bent_over(points[(bout.start_s <= time_s) & (time_s <= bout.end_s)])


def mostly_bent_over(poses_px: Floats) -> bool:
    """Whether most of the poses (M, 33, 2) px lean over further than anybody who trains does."""
    hips, shoulders = (poses_px[:, ends].mean(axis=1) for ends in (_HIPS, _SHOULDERS))
    return bool(np.nanmedian(np.abs(from_vertical(hips, shoulders, facing=1))) > BENT_DEG)


def _signal(survey: Landmarks, sitting: Sitting) -> tuple[Floats, Floats]:
    """Clock (T,) s and the limbs' place (T,) along their main way of moving, trunk lengths; NaN over gaps."""
    poses = survey.image_px[sitting.rows, sitting.slots][..., :2]
    centre, trunk = torso(poses)
    limbs = (poses[:, _LIMBS] - centre[:, None]) / float(np.median(trunk))
    limbs = limbs.reshape(len(limbs), -1)
    steps = np.diff(limbs, axis=0)  # not places: who sits down, or is misread for long, moves far but once
    steps = np.clip(steps, *np.percentile(steps, [2, 98], axis=0))
    way = np.linalg.svd(steps, full_matrices=False)[2][0]
    time_s = survey.time_s[sitting.rows]
    clock = np.arange(time_s[0], time_s[-1], CLOCK_S)
    values = np.interp(clock, time_s, limbs @ way)
    after = np.clip(np.searchsorted(time_s, clock, side="right"), 1, len(time_s) - 1)
    values[time_s[after] - time_s[after - 1] > GAP_S] = np.nan
    return clock, values


def _runs(clock: Floats, values: Floats) -> Iterator[list[_Swing]]:
    """Every run of swings that is long enough."""
    known = np.flatnonzero(~np.isnan(values))
    turns = turning_points(values[known], SWING)
    swings = [_swing(clock[known[a : b + 1]], values[known[a : b + 1]]) for a, b in pairwise(turns)]
    run: list[_Swing] = []
    for swing in [*swings, None]:
        if swing is not None and (not run or _goes_on(run, swing)):
            run.append(swing)
            continue
        run = _without_reaching(run)
        if len(run) >= FEWEST_SWINGS and np.median(_rests(run)) <= REST_S:
            yield run
        run = [] if swing is None else [swing]


def _without_reaching(run: list[_Swing]) -> list[_Swing]:
    """The run without swings at its edges that a rest sets apart: somebody took the handles, or let go."""
    while reaches := _reaches(_rests(run)):
        run = run[reaches:]
    while reaches := _reaches(_rests(run)[::-1]):
        run = run[:-reaches]
    return run


def _reaches(rests: Floats) -> int:
    """How many swings a long rest sets apart from those that follow; 0: none does."""
    if len(rests) < 2:
        return 0
    long = rests[:REACHES] > max(REST_S, 3 * float(np.median(rests)))
    return int(np.argmax(long)) + 1 if long.any() else 0


def _rests(run: list[_Swing]) -> Floats:
    """Seconds of rest between swings."""
    return np.array([after.start_s - before.end_s for before, after in pairwise(run)])


def _swing(time_s: Floats, values: Floats) -> _Swing:
    """From one turn to the next, without the rest at either end."""
    size = float(values[-1] - values[0])
    share = (values - values[0]) / size
    start = int(np.flatnonzero(share <= REST_SHARE)[-1])
    end = start + int(np.flatnonzero(share[start:] >= 1 - REST_SHARE)[0])
    return _Swing(float(time_s[start]), float(time_s[end]), abs(size))


def _goes_on(run: list[_Swing], swing: _Swing) -> bool:
    """Whether a swing belongs to the run before it: soon enough, and about as large."""
    usual = float(np.median([one.size for one in run]))
    soon = swing.start_s - run[-1].end_s <= PAUSE_S
    return soon and LIKE_SHARE <= swing.size / usual <= 1 / LIKE_SHARE
