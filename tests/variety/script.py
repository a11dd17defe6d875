"""The course of one set: poses one after the other at 50 a second, and what was really done."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.special import betainc

from shared.domain import Floats
from tests.variety.body import HAND, HIP, KNEE, PITCH, SIDES, THIGH, TURN, Body, shoulders_of
from tests.variety.machines import Machine

STEP_S = 0.02
STANDING_M = 0.9


@dataclass(frozen=True)
class DoneRep:
    """What was done: s; share of the usual range; cut: the clip ends or begins inside it; bad: on purpose."""

    start_s: float
    turn_s: float
    lower_start_s: float
    end_s: float
    share: float = 1.0
    cut: bool = False
    bad: bool = False


@dataclass
class Script:
    """Poses so far, and the repetitions among them. profile: exponents of a movement's two ends."""

    machine: Machine
    body: Body
    rng: np.random.Generator
    profile: tuple[float, float] = (2.0, 2.0)
    poses: list[Floats] = field(default_factory=list)
    reps: list[DoneRep] = field(default_factory=list)
    #: What a repetition does besides: trunk pitch (deg) and hips ahead (m) at its lift end.
    base: Floats = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        self.base = self.seated()
        self.now = self.base.copy()

    @property
    def time_s(self) -> float:
        return STEP_S * sum(len(part) for part in self.poses)

    def seated(self, q: float = 0.0) -> Floats:
        """The pose on the machine at a share of the drive, (SIZE,)."""
        return self.machine.at(np.array([q]), self.body)[0]

    def uniform(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def start_as(self, pose: Floats) -> None:
        """The pose in which the clip begins."""
        self.now = pose.copy()

    def hold(self, seconds: float) -> None:
        self._add(np.repeat(self.now[None], max(1, round(seconds / STEP_S)), axis=0))

    def move(self, pose: Floats, seconds: float) -> None:
        """To a pose, in so many seconds."""
        share = self._shares(seconds)[:, None]
        self._add(self.now + share * (pose - self.now))

    def rep(
        self, lift: float, hold: float, lower: float, rest: float, share: float = 1.0, pitch: float = 0.0,
        stop: float = 1.0, begin: float = 0.0, fault: Floats | None = None,
    ) -> None:  # fmt: skip
        """One repetition; stop: the share of its lowering after which the clip ends, begin: of its lift.

        fault: what the pose has besides at its lift end, (SIZE,).
        """
        up, down = self._shares(lift), 1.0 - self._shares(lower)
        top = np.ones(round(hold / STEP_S))
        q = np.concatenate([up[int(begin * len(up)) :], top, down[: int(stop * len(down))]])
        start = self.time_s
        turn = start + (len(up) - int(begin * len(up))) * STEP_S
        lower_start = turn + len(top) * STEP_S
        poses = self.machine.at(share * q, self.body)
        poses[:, PITCH] += pitch * q
        if fault is not None:
            poses += np.sin(np.pi / 2 * q)[:, None] * fault
        self._add(poses)
        cut = stop < 1.0 or begin > 0.0
        self.reps.append(DoneRep(start, turn, lower_start, self.time_s, share, cut, bad=fault is not None))
        if stop == 1.0 and rest > 0.0:
            self.hold(rest)

    def leaning(self, pitch: float, hands: tuple[float, float, float] | None = None, **more: float) -> Floats:
        """Seated with the trunk at a pitch; hands: place against the shoulders' middle, mirrored."""
        pose = self.seated()
        pose[PITCH] = pitch
        for side, sign in SIDES.items():
            if hands is not None:
                self.put_hand(pose, side, (hands[0], hands[1], sign * hands[2]))
            for name, index in (("knee", KNEE[side]), ("thigh", THIGH[side])):
                pose[index] = more.get(name, pose[index])
        return pose

    def put_hand(self, pose: Floats, side: str, off: tuple[float, float, float]) -> Floats:
        """The hand so far (m, ahead, up, right) from the middle of the shoulders of a pose."""
        turn = np.radians(pose[TURN])
        ahead, up, right = off
        turned = (
            ahead * np.cos(turn) - right * np.sin(turn),
            up,
            ahead * np.sin(turn) + right * np.cos(turn),
        )
        pose[HAND[side]] = shoulders_of(pose[None], self.body)[0] + np.array(turned)
        return pose

    def standing(self, ahead: float, right: float, turn: float = 0.0) -> Floats:
        """Upright at a place of the floor, arms hanging."""
        pose = self.seated()
        pose[HIP] = (ahead, STANDING_M, right)
        pose[TURN], pose[PITCH] = turn, 2.0
        for side, sign in SIDES.items():
            pose[THIGH[side]], pose[KNEE[side]] = 92.0, 176.0
            self.put_hand(pose, side, (0.05, -0.5, sign * 0.22))
        return pose

    def walk(self, pose: Floats, seconds: float) -> None:
        """To a standing pose, with swinging legs and arms."""
        share = np.linspace(0.0, 1.0, max(2, round(seconds / STEP_S)))[:, None]
        way = self.now + share * (pose - self.now)
        swing = np.sin(2 * np.pi * 0.9 * seconds * share[:, 0]) * np.sin(np.pi * share[:, 0]) ** 0.5
        for side, sign in SIDES.items():
            way[:, THIGH[side]] -= 22.0 * sign * swing
            way[:, KNEE[side]] -= 25.0 * np.clip(sign * swing, 0.0, 1.0)
            way[:, HAND[side].start] -= 0.15 * sign * swing
        self._add(way)

    def finished(self) -> Floats:
        """All poses, (T, SIZE)."""
        return np.concatenate(self.poses)

    def _shares(self, seconds: float) -> Floats:
        s = np.linspace(0.0, 1.0, max(2, round(seconds / STEP_S)) + 1)[1:]
        return np.asarray(betainc(*self.profile, s))

    def _add(self, poses: Floats) -> None:
        self.poses.append(poses)
        self.now = poses[-1].copy()
