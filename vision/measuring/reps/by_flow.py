"""The four moments of a repetition by optical flow: when the limb itself starts and stops, to a frame.

Landmarks five times a second are too rare and too restless for the slow tail of a soft movement. The flow of
the same limb is not: summed up from a stay at an end it says how far the limb has come, and the set's own
landmarks say how much of the drive that is, pooled over all repetitions. A moment is where the drive so read
passes 5 % of its own peak speed on that way, since an angle in the picture may rush and then rest while the
limb goes on. Where a limb comes towards the camera the picture cannot tell: there the moment stays as it
was.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.interpolate import CubicSpline

from shared.domain import Floats, Track
from shared.exercise import Exercise
from shared.keypoints import of_side
from vision.measuring.learnt.features import family_of
from vision.measuring.reps.ends import MOVES
from vision.measuring.reps.phase_correction import PhaseCorrection
from vision.measuring.reps.phases import SPEED_SHARE, Bounds, in_order
from vision.measuring.track.filters import butterworth
from vision.seeing.flow import LimbFlow

#: The path is read so often and low-passed at this, the drive that it is held against at this, Hz.
CLOCK_HZ, FLOW_HZ, DRIVE_HZ = 30.0, 8.0, 3.0
#: With fewer pictures, or fewer a second, nothing is told.
FEWEST, FEWEST_HZ = 30, 11.0
#: A point that is followed for less than this share of the pictures says nothing.
FOLLOWED_SHARE = 0.6
#: The way out of an end is read up to this share of its phase, its direction at this one.
WAY_SHARE, AIM_SHARE = 0.4, 0.35
#: From the first and after the last phase a stay is taken to last so long, s.
STAY_S = 0.4
#: Flow and landmarks must agree at least so well (correlation) about the way out of an end.
AGREES = 0.75
#: In the middle of a stay, so long in s to each side of it, the flow may not read more than this share of a
#: phase's peak speed in the landmarks, or the camera shakes too much for it. A shorter stay than the last, in
#: s, may be none: the limb turns without a stop.
STAY_MIDDLE_S, RESTLESS, STAYS_S = 0.05, 3 * SPEED_SHARE, 0.2
#: A stop is an end when no more is left than this share of what the limb had to go from ``AIM_SHARE`` on.
PAUSE_SHARE = 0.3
#: No moment is moved further than this, in s and in shares of its phase; at the lift end, where an elbow may
#: rush past the line of sight long before the hand is there, than the second.
FURTHEST_S, FURTHEST_SHARE = 0.6, 0.4
FURTHEST_TOP_S, FURTHEST_TOP_SHARE = 1.0, 0.6


@dataclass(frozen=True)
class LimbPath:
    """Where the limb has come to: place (N, D), in trunk lengths, on an even clock time_s (N,)."""

    time_s: Floats
    place: Floats

    def at(self, moment_s: float) -> Floats:
        """The place at a moment, (D,)."""
        rows = (moment_s - self.time_s[0]) / (self.time_s[1] - self.time_s[0])
        before = min(max(int(rows), 0), len(self.time_s) - 2)
        share = min(max(rows - before, 0.0), 1.0)
        return np.asarray((1 - share) * self.place[before] + share * self.place[before + 1])


@dataclass(frozen=True)
class Hinge:
    """How a limb's way and its joint's angle belong together.

    reaches: the hand's way from the shoulder grows with the sine of half the elbow's angle, so that near
    straight it hardly grows; else the way grows with the angle itself, as it does where a bent arm's hand
    passes by the shoulder. falls: the load rises as the angle falls.
    """

    reaches: bool
    falls: bool

    @classmethod
    def of(cls, exercise: Exercise) -> Hinge:
        """The hinge of a drive that is a joint's angle."""
        return cls(reaches=exercise.drive_joint == "elbow", falls=exercise.drive.lift == "falling")

    def at_end(self, top: bool) -> Hinge:
        """The hinge about the lift ends, or about the load-down ends: only a straight arm's hand reaches."""
        bent = top == self.falls
        return replace(self, reaches=self.reaches and not bent)

    def way(self, load: Floats) -> Floats:
        """The way at a load, in degrees as the load rises."""
        sign = -1.0 if self.falls else 1.0
        return np.asarray(sign * np.sin(np.radians(sign * load) / 2)) if self.reaches else load

    def load(self, way: Floats) -> Floats:
        """The load at a way; what ``way`` undoes."""
        sign = -1.0 if self.falls else 1.0
        return (
            np.asarray(sign * np.degrees(2 * np.arcsin(np.clip(sign * way, -1.0, 1.0))))
            if self.reaches
            else way
        )


@dataclass(frozen=True)
class _Way:
    """One phase out of a stay at one end, seen from there.

    rep, which: whose moment, and which of its four; end_s: the moment; sign: 1 where the phase comes after
    it. stay_s: the middle of the stay; stays: whether it is long enough to be one; phase: the phase's both
    moments, s.
    """

    rep: int
    which: int
    end_s: float
    sign: int
    stay_s: float
    stays: bool
    phase: tuple[float, float]

    @property
    def about(self) -> tuple[float, float]:
        """All that its moment may be told from, s."""
        edges = (
            self.stay_s - STAY_MIDDLE_S, self.stay_s + STAY_MIDDLE_S, self.out(WAY_SHARE),
            self.end_s - self.sign * FURTHEST_S,
        )  # fmt: skip
        return min(edges), max(edges)

    @property
    def furthest_s(self) -> float:
        """How far the moment may be moved, s."""
        phase_s = self.phase[1] - self.phase[0]
        if self.which in (1, 2):
            return min(FURTHEST_TOP_S, FURTHEST_TOP_SHARE * phase_s)
        return min(FURTHEST_S, FURTHEST_SHARE * phase_s)

    def out(self, share: float) -> float:
        """The moment after so much of the phase, s."""
        return self.end_s + self.sign * share * (self.phase[1] - self.phase[0])


def by_flow(path: LimbPath, exercise: Exercise, told: PhaseCorrection) -> PhaseCorrection:
    """The moments as ``told`` gives them, then by the path of the limb that the flow gave."""
    hinge = Hinge.of(exercise)

    def correct(bounds: Sequence[Bounds], load: Floats, time_s: Floats) -> list[Bounds]:
        found = told(bounds, load, time_s)
        return refined(path, found, load=load, time_s=time_s, hinge=hinge) if found else found

    return correct


def limb_path(flow: LimbFlow | None, track: Track, exercise: Exercise) -> LimbPath | None:
    """The path of the limbs that drive an exercise, from the side only the near one.

    None where none was followed, where pictures are too few for it, and where the drive is no joint's angle.
    """
    if flow is None or len(flow.time_s) < FEWEST or exercise.drive_joint is None:
        return None
    took_s = np.diff(flow.time_s)
    if 1 / float(np.median(took_s)) < FEWEST_HZ:
        return None
    columns = []
    for side in (track.near,) if track.view.is_side else ("left", "right"):
        for part in MOVES[family_of(exercise)][1]:
            speed = flow.steps(of_side(part, side))[1:] / took_s[:, None]
            known = np.isfinite(speed).all(axis=1)
            if known.mean() >= FOLLOWED_SHARE:
                middle_s = flow.time_s[1:] - took_s / 2
                columns += [np.interp(middle_s, middle_s[known], one) * took_s for one in speed[known].T]
    if not columns:
        return None
    gone = np.cumsum(np.column_stack(columns), axis=0)
    clock = np.arange(flow.time_s[1], flow.time_s[-1], 1 / CLOCK_HZ)
    place = butterworth(CubicSpline(flow.time_s[1:], gone)(clock), CLOCK_HZ, FLOW_HZ)
    return LimbPath(clock, place / track.trunk_px)


def refined(
    path: LimbPath, found: Sequence[Bounds], load: Floats, time_s: Floats, hinge: Hinge
) -> list[Bounds]:
    """The bounds of a set's repetitions, each moment by the flow where that tells of it.

    load (T,): the drive, degrees, rising as the load does, on an even clock time_s (T,).
    """
    drive = butterworth(load, 1 / float(time_s[1] - time_s[0]), DRIVE_HZ)
    speed = np.abs(np.gradient(drive, time_s))
    moved, restless = np.array(found), [0.0]
    for top in (False, True):
        ways, here = _ways(found, top), hinge.at_end(top)
        aim = np.median([path.at(way.out(AIM_SHARE)) - path.at(way.stay_s) for way in ways], axis=0)
        along = path.place @ (aim / max(float(np.linalg.norm(aim)), 1e-9))
        scale = _scale(path.time_s, along, drive=drive, time_s=time_s, ways=ways, hinge=here)
        if scale is None:
            continue
        stirred = []
        for way in ways:
            about = _within(path.time_s, way.about)
            clock, grown = path.time_s[about], along[about] - np.interp(way.stay_s, path.time_s, along)
            begun = here.way(np.interp([way.stay_s], time_s, drive))
            come = here.load(begun + grown / scale)
            moment = _moment(way, clock, come if top else -come)
            if abs(moment - way.end_s) <= way.furthest_s:
                moved[way.rep, way.which] = moment
            if way.stays:
                stay = (way.stay_s - STAY_MIDDLE_S, way.stay_s + STAY_MIDDLE_S)
                peak = float(speed[_within(time_s, way.phase)].max(initial=1e-6))
                stirred.append(float(np.abs(np.gradient(come, clock)[_within(clock, stay)]).mean()) / peak)
        restless += [float(np.median(stirred))] if stirred else []
    if max(restless) > RESTLESS:
        return list(found)
    return in_order(list(moved))


def _ways(found: Sequence[Bounds], top: bool) -> list[_Way]:
    """The ways into and out of every stay at the lift ends, or at the load-down ends."""
    ways = []
    rests = [(found[0][0] - STAY_S, found[0][0]), *((a[3], b[0]) for a, b in pairwise(found))]
    rests.append((found[-1][3], found[-1][3] + STAY_S))
    for rep, (start, turn, lower, end) in enumerate(found):
        if top:
            middle, stays = (turn + lower) / 2, lower - turn >= STAYS_S
            ways += [
                _Way(rep, 1, turn, -1, middle, stays, (start, turn)),
                _Way(rep, 2, lower, 1, middle, stays, (lower, end)),
            ]
        else:
            before = max((rests[rep][0] + rests[rep][1]) / 2, start - STAY_S / 2)
            after = min((rests[rep + 1][0] + rests[rep + 1][1]) / 2, end + STAY_S / 2)
            ways += [
                _Way(rep, 0, start, 1, before, start - rests[rep][0] >= STAYS_S, (start, turn)),
                _Way(rep, 3, end, -1, after, rests[rep + 1][1] - end >= STAYS_S, (lower, end)),
            ]
    return ways


def _scale(
    clock: Floats, along: Floats, drive: Floats, time_s: Floats, ways: Sequence[_Way], hinge: Hinge
) -> float | None:
    """How far along the aim the limb comes while the hinge's way grows by one; None where it hardly does."""
    grew, went = [], []
    for way in ways:
        inside = clock[_within(clock, (way.stay_s, way.out(WAY_SHARE)))]
        grew.append(np.interp(inside, clock, along) - np.interp(way.stay_s, clock, along))
        ways_s = hinge.way(np.interp(np.append(inside, way.stay_s), time_s, drive))
        went.append(ways_s[:-1] - ways_s[-1])
    grown, gone = np.concatenate(grew), np.concatenate(went)
    if not (np.ptp(gone) and np.ptp(grown)) or abs(float(np.corrcoef(gone, grown)[0, 1])) < AGREES:
        return None
    return float(gone @ grown) / float(gone @ gone)


def _moment(way: _Way, clock: Floats, come: Floats) -> float:
    """Where the limb stops, from the inside out, and never beyond the furthest that it comes.

    come (N,): how far the limb has come towards the end; one that turns without a stop turns at the furthest.
    A stop far from there is a pause on the way, or a slip of the flow.
    """
    inside = min(max(int(np.searchsorted(clock, way.out(AIM_SHARE))), 1), len(clock) - 2)
    outside = slice(0, inside + 1) if way.sign > 0 else slice(inside, len(clock))
    furthest = outside.start + int(np.argmax(come[outside]))
    own = slice(furthest, None) if way.sign > 0 else slice(None, furthest + 1)
    speed = np.abs(np.gradient(come, clock))
    speed /= max(float(speed[own].max()), 1e-6)
    left = come[furthest] - come
    moving, i = (speed >= SPEED_SHARE) | (left > PAUSE_SHARE * left[inside]), inside
    while 0 < i < len(clock) - 1 and i != furthest and moving[i]:
        i -= way.sign
    inner = i + way.sign
    rise = speed[inner] - speed[i]
    share = (SPEED_SHARE - speed[i]) / rise if rise > 0 else 0.0
    return float(clock[i] + min(max(share, 0.0), 1.0) * (clock[inner] - clock[i]))


def _within(clock: Floats, moments_s: tuple[float, float]) -> slice:
    """The samples between two moments, two at least."""
    first, last = (min(int(np.searchsorted(clock, m)), len(clock) - 2) for m in sorted(moments_s))
    return slice(first, max(last, first + 1) + 1)
