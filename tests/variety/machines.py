"""How a stick person sits on each machine, and its pose at a share of the drive: 0 load down, 1 lift end."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from shared.domain import Floats
from tests.variety.body import (
    ELBOW_DOWN,
    ELBOW_OUT,
    HAND,
    HIP,
    KNEE,
    PITCH,
    SEAT_M,
    SIDES,
    SIZE,
    THIGH,
    Body,
    shoulders_of,
)

#: Where both hands are against their shoulders, mirrored for the left: ahead, up, out as a direction or a
#: place in arm lengths (T, 3), and the included elbow (T,) where that tells how far; all by the drive's
#: share (T,).
HandPath = Callable[[Floats], tuple[Floats, Floats | None]]


@dataclass(frozen=True)
class Machine:
    """One machine: views are camera angles about the sitter (0 front, 90 right side), elbow: down, out."""

    name: str
    views: tuple[float, ...]
    limb: str
    hands: HandPath
    elbow: tuple[float, float]
    knee: tuple[float, float] = (92.0, 92.0)

    def at(self, q: Floats, body: Body) -> Floats:
        """Poses (T, SIZE) at shares of the drive (T,), straight up on the seat."""
        q = np.atleast_1d(np.asarray(q, dtype=float))
        pose = np.zeros((len(q), SIZE))
        pose[:, HIP] = (0.0, SEAT_M, 0.0)
        pose[:, PITCH] = -8.0
        pose[:, [ELBOW_DOWN, ELBOW_OUT]] = self.elbow
        middle = shoulders_of(pose, body)
        place, elbow = self.hands(q)
        reach = _reach(body, elbow) if elbow is not None else body.upper_arm + body.forearm
        for side, sign in SIDES.items():
            off = np.array([0.0, 0.0, body.shoulders / 2]) + np.reshape(reach, (-1, 1)) * place
            pose[:, HAND[side]] = middle + off * np.array([1.0, 1.0, sign])
            pose[:, THIGH[side]] = 2.0
            pose[:, KNEE[side]] = self.knee[0] + (self.knee[1] - self.knee[0]) * q
        return pose

    def varied(self, rng: np.random.Generator, deg: float) -> Machine:
        """Another machine of the kind: its handles go another way, its limbs bend more or less."""
        turn, bend = rng.uniform(-deg, deg, 3), rng.uniform(-deg, deg, 2)
        axes = Rotation.from_euler("xyz", turn * (0.3, 0.3, 1.0), degrees=True)

        def hands(q: Floats) -> tuple[Floats, Floats | None]:
            place, elbow = self.hands(q)
            more = bend[0] + q * (bend[1] - bend[0])
            return axes.apply(place), None if elbow is None else np.minimum(elbow + more, 172.0)

        knees = (
            (self.knee[0] + bend[0], min(self.knee[1] + bend[1], 172.0)) if self.limb == "leg" else self.knee
        )
        elbow = (max(0.1, self.elbow[0] + rng.uniform(-0.5, 0.2)), self.elbow[1] + rng.uniform(-0.1, 0.6))
        return replace(self, hands=hands, knee=knees, elbow=elbow)


def _reach(body: Body, elbow_deg: Floats) -> Floats:
    """Metres from the shoulder to the wrist of an arm bent so."""
    a, b = body.upper_arm, body.forearm
    return np.asarray(np.sqrt(a**2 + b**2 - 2 * a * b * np.cos(np.radians(elbow_deg))))


def _bends(
    start: tuple[float, float, float], end: tuple[float, float, float], elbow: tuple[float, float]
) -> HandPath:
    """The arm points from one direction to the other while its elbow goes from one angle to the other."""

    def path(q: Floats) -> tuple[Floats, Floats]:
        way = np.array(start) + q[:, None] * (np.array(end) - np.array(start))
        return way / np.linalg.norm(way, axis=1, keepdims=True), elbow[0] + q * (elbow[1] - elbow[0])

    return path


def _stays(ahead: float, up: float, out: float) -> HandPath:
    """Hands at one place, in arm lengths."""
    return lambda q: (np.repeat(np.array([[ahead, up, out]]), len(q), axis=0), None)


def _arc(start_deg: float, end_deg: float) -> HandPath:
    """Hands on a level arc about the shoulders: 0 straight ahead, 90 out to the side."""

    def path(q: Floats) -> tuple[Floats, None]:
        angle = np.radians(start_deg + (end_deg - start_deg) * q)
        return 0.95 * np.stack([np.cos(angle), np.full(len(q), -0.05), np.sin(angle)], axis=-1), None

    return path


_SIDES = (90.0, -90.0)
_BESIDE, _ON_PAD = _stays(0.35, -0.85, 0.1), _stays(0.7, -0.55, -0.1)
_PRESS = _bends((0.9, -0.35, 0.15), (1.0, -0.2, 0.02), (78.0, 148.0))
_PULL = _bends((0.15, 0.95, 0.15), (0.6, -0.25, 0.3), (146.0, 66.0))
_OVERHEAD = _bends((0.6, 0.3, 0.25), (0.2, 1.0, 0.05), (74.0, 146.0))
MACHINES = {
    m.name: m
    for m in (
        Machine("leg-extension", _SIDES, "leg", _BESIDE, (0.4, 0.6), (95.0, 162.0)),
        Machine("leg-curl", _SIDES, "leg", _ON_PAD, (0.8, 0.6), (160.0, 88.0)),
        Machine("chest-press", _SIDES, "arm", _PRESS, (1.0, 0.3)),
        Machine("lat-pulldown", _SIDES, "arm", _PULL, (1.0, 0.3)),
        Machine("shoulder-press", _SIDES, "arm", _OVERHEAD, (1.0, 0.3)),
        Machine("chest-fly", (0.0,), "arm", _arc(82.0, 8.0), (1.0, 0.3)),
        Machine("reverse-fly", (0.0, 180.0), "arm", _arc(6.0, 82.0), (1.0, 0.3)),
    )
}
