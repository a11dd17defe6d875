"""From poses to what the landmark model would say of them: a camera, noise as measured, slips, hidden limbs.

The noise is that of real looks at the rendered sample clips against their truth (eight clips, 2026-11), in
trunk lengths: a part that goes with the pose and so comes back in every repetition, and a part that does
not, half of which lasts for a second and half of which changes from look to look, with one look in a hundred
five times as far off.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from shared.domain import Clip, Floats, Landmarks
from shared.keypoints import INDEX, KEYPOINTS
from tests.variety.body import Body, joints
from vision.seeing.look import LANDMARK_STEP_S

#: Noise and slips are made this often, s; of what they give a part is looked at.
LOOK_S = 0.1
#: How much the noise of a second look is that of the first: on real looks the mean of two leaves 0.96 of it.
ALIKE = 0.84
HIDDEN = "a-limb-hidden"
#: Spread in trunk lengths of what does not come back, near and far, and of what goes with the pose; measured.
NOISE = {
    "shoulder": (0.005, 0.006, 0.014), "elbow": (0.01, 0.011, 0.027), "wrist": (0.009, 0.011, 0.025),
    "hip": (0.004, 0.005, 0.009), "knee": (0.005, 0.016, 0.009), "ankle": (0.006, 0.012, 0.008),
    "heel": (0.007, 0.016, 0.009), "ear": (0.004, 0.004, 0.003),
}  # fmt: skip
LASTS_S = 0.8
#: Over so many trunk lengths of a point's way about the hips the part that goes with the pose comes round.
POSE_WAVE = 1.5
#: How surely a point is seen: near, and far in a side view.
SEEN, FAR_SEEN, HIDDEN_SEEN = 0.95, 0.3, 0.2
#: A hidden limb is guessed: its noise is this many times larger.
GUESSED = 2.5
PORTRAIT, LANDSCAPE = (720, 1280), (1280, 720)
Part = Literal["design", "sealed"]


@dataclass(frozen=True)
class Camera:
    """yaw: 0 front, 90 from the sitter's right; trunk_px: how large the person is."""

    yaw: float
    trunk_px: float = 200.0
    picture: tuple[int, int] = PORTRAIT
    away_m: float = 2.8
    height_m: float = 0.9


def seen_by(camera: Camera, points: Floats, trunk_m: float) -> tuple[Floats, Floats]:
    """Pixels (T, 33, 3) and metres about the hips (T, 33, 3) of points in the seat frame."""
    yaw = np.radians(camera.yaw)
    into = -np.array([np.cos(yaw), 0.0, np.sin(yaw)])
    across = np.cross(into, [0.0, 1.0, 0.0])
    off = points - np.array([0.15, camera.height_m, 0.0])
    x, y, z = off @ across, -off[..., 1], off @ into
    depth = np.maximum(z + camera.away_m, 0.3)
    focal = camera.trunk_px / trunk_m * camera.away_m
    width, height = camera.picture
    px = np.stack([width / 2 + focal * x / depth, height / 2 + focal * y / depth, focal * z / depth], axis=-1)
    space = np.stack([x, y, z], axis=-1)
    hips = space[:, [INDEX["left_hip"], INDEX["right_hip"]]].mean(axis=1, keepdims=True)
    return px, space - hips


def noise(rng: np.random.Generator, space: Floats, far: str | None, times: float = 1.0) -> Floats:
    """Landmark error (N, 33, 2) of points about the hips (N, 33, 2), both in trunk lengths."""
    keeps = np.exp(-LOOK_S / LASTS_S)
    lasting = rng.normal(size=space.shape)
    for i in range(1, len(space)):
        lasting[i] = keeps * lasting[i - 1] + np.sqrt(1 - keeps**2) * lasting[i]
    quick = rng.standard_t(3, size=space.shape) / 1.13
    wave = rng.normal(size=(2, 1, *space.shape[1:])) * 2 * np.pi / POSE_WAVE
    pose = 1.4 * np.sin(
        np.sum(wave * space, axis=-1, keepdims=True) + rng.uniform(0, 6.3, (1, *space.shape[1:]))
    )
    size = _size(far)
    return times * (0.7 * (lasting + quick) * size[:, :1] + pose[0] * size[:, 1:])


def _size(far: str | None) -> Floats:
    """Both spreads of each point, (33, 2)."""
    out = np.full((len(KEYPOINTS), 2), NOISE["ear"][::2])
    alike = {"pinky": "wrist", "index": "wrist", "thumb": "wrist", "foot_index": "heel"}
    for i, name in enumerate(KEYPOINTS):
        side, _, part = name.partition("_")
        if alike.get(part, part) in NOISE:
            near, away, pose = NOISE[alike.get(part, part)]
            out[i] = (away if side == far else near), pose
    return out


@dataclass
class Look:
    """What is being made of one clip: error (N, 33, 2) in trunk lengths, visibility (N, 33), reps' times."""

    rng: np.random.Generator
    time_s: Floats
    error: Floats
    seen: Floats
    near: str
    limb: str
    reps: tuple[tuple[float, float], ...]

    def rows(self, start_s: float, stop_s: float) -> np.ndarray:
        return np.flatnonzero((self.time_s >= start_s) & (self.time_s < stop_s))

    def somewhere(self) -> int:
        """A look within the set."""
        return int(np.searchsorted(self.time_s, self.rng.uniform(self.reps[0][0], self.reps[-1][1])))

    def outer(self) -> list[int]:
        """The points of the near limb that carries the load, from the middle joint outwards."""
        parts = ("elbow", "wrist", "pinky", "index", "thumb") if self.limb == "arm" else _SHANK
        return [INDEX[f"{self.near}_{part}"] for part in parts]


_SHANK = ("knee", "ankle", "heel", "foot_index")
SLIPS: dict[str, tuple[Part, Callable[[Look], None]]] = {}


def slip(part: Part) -> Callable[[Callable[[Look], None]], Callable[[Look], None]]:
    def register(spoil: Callable[[Look], None]) -> Callable[[Look], None]:
        SLIPS[spoil.__name__.replace("_", "-")] = part, spoil
        return spoil

    return register


def _offset(rng: np.random.Generator, low: float, high: float) -> Floats:
    angle = rng.uniform(0, 2 * np.pi)
    return np.asarray(rng.uniform(low, high) * np.array([np.cos(angle), np.sin(angle)]))


@slip("design")
def a_limb_elsewhere(look: Look) -> None:
    """The wrist or the ankle is read elsewhere for a few looks, time and again."""
    for _ in range(int(look.rng.integers(3, 9))):
        at, long = look.somewhere(), int(look.rng.integers(1, 5))
        look.error[at : at + long, look.outer()[1:]] += _offset(look.rng, 0.3, 0.8)


@slip("design")
def the_body_elsewhere(look: Look) -> None:
    for _ in range(int(look.rng.integers(2, 6))):
        at, long = look.somewhere(), int(look.rng.integers(1, 5))
        look.error[at : at + long] += _offset(look.rng, 0.25, 0.45)
        look.error[at : at + long] += look.rng.normal(0, 0.12, (1, len(KEYPOINTS), 2))


@slip("design")
def heavier_jitter(look: Look) -> None:
    look.error *= look.rng.uniform(2.0, 3.0)


@slip("design")
def a_limb_hidden(look: Look) -> None:
    """The limb that carries the load is hidden in some repetitions, and guessed there."""
    many = max(1, int(look.rng.uniform(0.12, 0.4) * len(look.reps)))
    first = int(look.rng.integers(0, len(look.reps) - many + 1))
    for start, end in look.reps[first : first + many]:
        middle, long = start + (end - start) * look.rng.uniform(0.3, 0.7), look.rng.uniform(0.5, 1.2)
        rows = look.rows(middle - long * (end - start) / 2, middle + long * (end - start) / 2)
        look.seen[np.ix_(rows, look.outer()[1:])] = HIDDEN_SEEN
        look.error[np.ix_(rows, look.outer()[1:])] *= GUESSED


@slip("sealed")
def a_joint_flips(look: Look) -> None:
    """The middle joint is read on the other side of the limb, for a few looks."""
    for _ in range(int(look.rng.integers(3, 9))):
        at, long = look.somewhere(), int(look.rng.integers(1, 5))
        look.error[at : at + long, look.outer()[0]] += _offset(look.rng, 0.2, 0.45)


@slip("sealed")
def a_spell_of_noise(look: Look) -> None:
    """For a second or so everything is read wildly, as when somebody passes before the lens."""
    for _ in range(int(look.rng.integers(1, 3))):
        at, long = look.somewhere(), int(look.rng.integers(4, 10))
        size = look.error[at : at + long].shape
        look.error[at : at + long] += look.rng.normal(0, 0.2, size)


def landmarks_of(
    poses: Floats, step_s: float, body: Body, camera: Camera, limb: str,
    reps: tuple[tuple[float, float], ...], slips: tuple[str, ...], rng: np.random.Generator,
) -> tuple[Landmarks, Landmarks]:  # fmt: skip
    """The landmarks of one person in two looks, as often as a clip is looked at.

    reps: start and end of each, s.
    """
    time_s = np.arange(0.0, (len(poses) - 1) * step_s, LOOK_S)
    rows = np.minimum(np.round(time_s / step_s).astype(int), len(poses) - 1)
    px, space = seen_by(camera, joints(poses[rows], body), body.trunk)
    side_on = abs(abs(camera.yaw) - 90.0) < 45.0
    near = "right" if camera.yaw > 0 else "left"
    far = {"left": "right", "right": "left"}[near] if side_on else None

    def erred(rng: np.random.Generator) -> Floats:
        return noise(rng, space[..., :2] / body.trunk, far, max(1.0, 1.6 * 60.0 / camera.trunk_px))

    def looked(error: Floats, rng: np.random.Generator) -> Look:
        look = Look(rng, time_s, error, _visible(len(rows), far), near, limb, reps)
        for name in slips:
            SLIPS[name][1](look)
        return look

    [own] = rng.spawn(1)
    error = erred(rng)
    another = ALIKE * error + np.sqrt(1 - ALIKE**2) * erred(own)
    first, second = looked(error, rng), looked(another, own)
    if HIDDEN in slips:
        second.seen = first.seen
    between = round(LANDMARK_STEP_S / LOOK_S)

    def told(look: Look, start: int) -> Landmarks:
        some = slice(start, None, between)
        at, shape = time_s[some], look.seen[some, None]
        image, world = px.copy(), space.copy()
        image[..., :2] += camera.trunk_px * look.error
        world[..., :2] += body.trunk * look.error
        frame = np.round(at * 30).astype(int)
        return Landmarks(frame, at, image[some, None], world[some, None], shape, shape.copy(), "stick")

    return told(first, 0), told(second, between // 2)


def _visible(looks: int, far: str | None) -> Floats:
    seen = np.full((looks, len(KEYPOINTS)), SEEN)
    if far is not None:
        for part in ("elbow", "wrist", "knee", "ankle", "pinky", "index", "thumb"):
            seen[:, INDEX[f"{far}_{part}"]] = FAR_SEEN
    return seen


def clip_of(people: Landmarks, camera: Camera) -> Clip:
    width, height = camera.picture
    end = float(people.time_s[-1])
    return replace(Clip("stick.mp4", end, len(people.frame), 30.0, width, height, 0), frames=round(end * 30))


__all__ = ["LANDSCAPE", "PORTRAIT", "SLIPS", "Camera", "Look", "clip_of", "landmarks_of"]
