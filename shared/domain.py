"""One immutable type a stage: clip, frames, landmarks, track, signals, reps, findings.

Conventions, everywhere: time in seconds since the first video frame's timestamp; a frame is its
0-based index in presentation order; pictures are upright (rotation applied) RGB uint8 arrays of
shape (height, width, 3); points are pixels of the upright picture, x to the right, y down; angles
in degrees; NaN, and nothing else, means "not known".
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shared.keypoints import INDEX, KEYPOINTS, Side

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Image = NDArray[np.uint8]
ViewName = Literal["side-left", "side-right", "front", "rear", "oblique"]
Unit = Literal["deg", "s", "cm", "trunk_fraction", "%", "reps", "ratio"]
Verdict = Literal["flag", "watch", "clear", "cannot-tell"]


def require(ok: bool, what: str) -> None:
    """ValueError, saying what, where it is not so."""
    if not ok:
        raise ValueError(what)


@dataclass(frozen=True)
class Clip:
    """What the container says about a clip, measured by reading it where headers lie.

    width, height are those of the upright picture; rotation_deg is the clockwise turn that was
    applied to make it upright (0, 90, 180 or 270).
    """

    file: str
    duration_s: float
    frames: int
    fps_mean: float
    width: int
    height: int
    rotation_deg: int
    codec: str = ""


@dataclass(frozen=True)
class Frame:
    """One picture: index in presentation order, time in s, upright RGB uint8 (H, W, 3) or grey (H, W)."""

    index: int
    time_s: float
    image: Image


@dataclass(frozen=True)
class Landmarks:
    """Poses found in the frames that were looked at, up to P people in each.

    frame (N,), time_s (N,); image_px (N, P, 33, 3): x, y and the model's depth in pixels;
    world_m (N, P, 33, 3): metres about the mid-hip, x right, y down, z away from the camera;
    visibility and presence (N, P, 33): a ranking in 0..1, not a probability. A slot without a
    person is NaN throughout.
    """

    frame: Ints
    time_s: Floats
    image_px: Floats
    world_m: Floats
    visibility: Floats
    presence: Floats
    model: str = ""

    def __post_init__(self) -> None:
        n = len(self.frame)
        k = len(KEYPOINTS)
        require(self.time_s.shape == (n,), "time_s must be (N,)")
        require(bool(np.all(np.diff(self.time_s) > 0)), "time_s must increase strictly")
        people = self.image_px.shape[1] if self.image_px.ndim == 4 else -1
        tails = {"image_px": (k, 3), "world_m": (k, 3), "visibility": (k,), "presence": (k,)}
        for name, tail in tails.items():
            shape = getattr(self, name).shape
            require(shape == (n, people, *tail), f"{name} must be (N, P, {tail}), got {shape}")

    @property
    def people(self) -> int:
        """The number of slots P."""
        return int(self.image_px.shape[1])


@dataclass(frozen=True)
class View:
    """Where the camera stands: nearest named view and degrees off it, 0 = exactly that view.

    yaw_deg: 0 = front, 90 = the person's left side, 180 or -180 = rear, -90 = the right side.
    """

    name: ViewName
    off_deg: float
    yaw_deg: float

    @property
    def is_side(self) -> bool:
        """Whether the camera stands nearer to a side than to the front or the back."""
        return abs(abs(self.yaw_deg) - 90.0) <= 45.0


@dataclass(frozen=True)
class Track:
    """The subject alone, cleaned, on a uniform clock.

    time_s (T,), spacing 1 / rate_hz; points_px (T, 33, 2); world_m (T, 33, 3); visibility (T, 33); NaN where
    a gap was too long to bridge. jitter_px (33,): standard deviation of what the low-pass took away. near:
    the side nearest the camera. facing: +1 towards the picture's right edge, -1 the left, 0 in front and rear
    views. trunk_px: median mid-hip to mid-shoulder length. cm_per_px: None without a height. to_picture
    (T, 2, 3): where the camera moved all points are as one that stands shows them, and these maps lead to the
    pictures; placed (T,): whether the map is known then; None where it stood. log: what was done, in order.
    """

    time_s: Floats
    rate_hz: float
    points_px: Floats
    world_m: Floats
    visibility: Floats
    jitter_px: Floats
    near: Side
    facing: int
    view: View
    trunk_px: float
    picture: tuple[int, int]
    cm_per_px: float | None = None
    to_picture: Floats | None = None
    placed: np.ndarray | None = None
    log: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        t = len(self.time_s)
        require(self.points_px.shape == (t, len(KEYPOINTS), 2), "points_px must be (T, 33, 2)")
        require(self.to_picture is None or self.to_picture.shape == (t, 2, 3), "to_picture: (T, 2, 3)")
        require(self.world_m.shape == (t, len(KEYPOINTS), 3), "world_m must be (T, 33, 3)")

    def xy(self, name: str) -> Floats:
        """Pixels of one named point, (T, 2); ``mid_hip`` and ``mid_shoulder`` are means of two."""
        return _named(self.points_px, name)

    def still_xy(self, name: str) -> Floats:
        """The same, (T, 2), as a place in the room: NaN while the camera's own motion is not known."""
        here = self.xy(name)
        return here if self.placed is None else np.where(self.placed[:, None], here, np.nan)

    def in_picture(self, rows: slice = slice(None), shown_s: float | None = None) -> Floats:
        """All points as they lie in the pictures of these rows, (T, 33, 2), or in the picture of shown_s."""
        if self.to_picture is None:
            return self.points_px[rows]
        shown = rows if shown_s is None else [int(np.argmin(np.abs(self.time_s - shown_s)))]
        return mapped(self.to_picture[shown], self.points_px[rows])

    def picture_xy(self, name: str) -> Floats:
        """One named point in the pictures, (T, 2)."""
        here = self.xy(name)
        return here if self.to_picture is None else mapped(self.to_picture, here[:, None])[:, 0]

    def xyz(self, name: str) -> Floats:
        """World metres of one named point, (T, 3)."""
        return _named(self.world_m, name)


def mapped(maps: Floats, places: Floats) -> Floats:
    """Places (T, P, 2) px of T pictures, each by its map (T, 2, 3), or all by one (1, 2, 3)."""
    return np.asarray(places @ maps[:, :, :2].swapaxes(1, 2) + maps[:, None, :, 2])


def _named(values: Floats, name: str) -> Floats:
    if name.startswith("mid_"):
        part = name[4:]
        both = values[:, INDEX[f"left_{part}"]] + values[:, INDEX[f"right_{part}"]]
        return np.asarray(both / 2.0)
    return np.asarray(values[:, INDEX[name]])


@dataclass(frozen=True)
class Signal:
    """One named quantity over time.

    values (T,) in ``unit``; raw (T,) before any learnt correction, the same array where none
    applies; moment_half (T,): half-width of the 90 % interval of the part that changes from moment to
    moment; clip_half: half-width of the 90 % interval of the part shared by the whole clip, which
    cancels in a change; points: the keypoints it was made of, for drawing; unjudgeable: why the
    signal cannot be judged from this view, or None.
    """

    name: str
    unit: Unit
    time_s: Floats
    values: Floats
    moment_half: Floats
    clip_half: float
    points: tuple[str, ...] = ()
    raw: Floats = field(default_factory=lambda: np.empty(0))
    unjudgeable: str | None = None

    def __post_init__(self) -> None:
        require(self.values.shape == self.time_s.shape, f"signal {self.name}: values must be (T,)")
        require(self.moment_half.shape == self.time_s.shape, f"signal {self.name}: moment_half must be (T,)")
        if self.raw.shape != self.values.shape:
            object.__setattr__(self, "raw", self.values)

    def between(self, start_s: float, end_s: float) -> Signal:
        """The part from start_s to end_s, both ends included."""
        first = np.searchsorted(self.time_s, start_s - 1e-9)
        inside = slice(first, np.searchsorted(self.time_s, end_s + 1e-9, side="right"))
        return replace(
            self, time_s=self.time_s[inside], values=self.values[inside],
            moment_half=self.moment_half[inside], raw=self.raw[inside],
        )  # fmt: skip

    @property
    def missing_share(self) -> float:
        """Share of samples that are not known, 1.0 for an empty part."""
        return float(np.mean(np.isnan(self.values))) if len(self.values) else 1.0


Signals = Mapping[str, Signal]


@dataclass(frozen=True)
class Rep:
    """One repetition; times in s, see docs/check.md for the boundary rule.

    drive_min to at_load_down are in the drive's unit, the last two the drive at its two ends; peak speeds
    in that unit per s. range_share: of the usual range; range_unsure: how far that may be off, beside what
    was learnt, because joint and limb do not agree.
    """

    number: int
    start_s: float
    turn_s: float
    lower_start_s: float
    end_s: float
    rest_s: float | None
    drive_min: float
    drive_max: float
    at_lift_end: float
    at_load_down: float
    lift_peak_speed: float
    lower_peak_speed: float
    partial: bool
    range_share: float
    range_unsure: float = 0.0

    @property
    def lift_s(self) -> float:
        """Seconds in which the load rises."""
        return self.turn_s - self.start_s

    @property
    def hold_s(self) -> float:
        """Seconds at the lift end."""
        return self.lower_start_s - self.turn_s

    @property
    def lower_s(self) -> float:
        """Seconds in which the load goes down."""
        return self.end_s - self.lower_start_s

    @property
    def duration_s(self) -> float:
        """start_s to end_s."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class RepSet:
    """The set: repetitions in time order, the usual range, and the set's first and last moment.

    unsteady: by how much its times are less sure because the picture trembles, 1 or more; left_out_s: when
    movements between its repetitions began that are taken for none of it.
    """

    reps: tuple[Rep, ...]
    usual_range: float
    start_s: float
    end_s: float
    unsteady: float = 1.0
    left_out_s: tuple[float, ...] = ()

    @property
    def full(self) -> tuple[Rep, ...]:
        """The counted repetitions."""
        return tuple(rep for rep in self.reps if not rep.partial)
