"""Follow one point from picture to picture: flow there and back, held against the marked still."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from shared.domain import Floats
from vision.seeing.gray import Gray

#: A mark's patch: this share of the picture's long side to each side of the point.
PATCH_SHARE = 0.016
#: Flow there and back again must end within this many px of its start.
ROUND_TRIP_PX = 1.0
#: A step is kept when the patch agrees with the marked still (normalised correlation) this well.
KEEP = 0.72
#: A lost mark is found again only by an agreement this good that no other place comes close to.
FIND = 0.85
CLEARLY = 0.04
#: How far, in shares of the long side, a lost mark is looked for.
REACH_SHARE = 0.2
#: A turning handle: degrees tried each way from one frame to the next.
TURN_DEG = 6.0
#: A lost mark is looked for in every n-th picture.
SEARCH_EVERY = 6
#: A patch of which fewer pixels move with the part cannot be followed.
OWN_SHARE = 0.15


def map_px(affine: np.ndarray, xy: Floats) -> Floats:
    """A point (2,) moved by an affine map (2, 3)."""
    return np.asarray(affine[:, :2] @ xy + affine[:, 2])


def round_trip(
    before: Gray, after: Gray, start: np.ndarray, guess: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Flow from before to after, (N, 1, 2), and which of it finds its way back, (N,)."""
    how: dict[str, Any] = {"winSize": (15, 15), "maxLevel": 3, "flags": cv2.OPTFLOW_USE_INITIAL_FLOW}
    there, ok, _ = cv2.calcOpticalFlowPyrLK(before, after, start, guess.copy(), **how)
    back, ok_back, _ = cv2.calcOpticalFlowPyrLK(after, before, there, start.copy(), **how)
    off = np.linalg.norm((back - start)[:, 0], axis=1)
    return there, (ok[:, 0] == 1) & (ok_back[:, 0] == 1) & (off < ROUND_TRIP_PX)


class Fixed:
    """A point of the machine that moves with the camera alone."""

    def __init__(self, xy: Floats):
        self._xy = xy

    def step(self, gray: Gray, moved: Floats | None) -> tuple[Floats, float]:
        """Place in this picture and confidence; moved: the camera's map since the still."""
        if moved is None:
            return np.full(2, np.nan), 0.0
        return map_px(moved, self._xy), 1.0


@dataclass
class _Match:
    xy: Floats
    agreement: float
    turn_deg: float


class Moving:
    """A point of a moving part, followed by flow and held against the marked still."""

    def __init__(self, still: Gray, xy: Floats, turns: bool, moving: np.ndarray):
        self._half = max(8, round(PATCH_SHARE * max(still.shape)))
        self._reach = round(REACH_SHARE * max(still.shape))
        self._still, self._origin, self._turns = still, xy, turns
        self._patches: dict[float, tuple[np.ndarray, np.ndarray]] = {}
        own = cut(moving.astype(np.uint8), np.round(xy).astype(int) - self._half, 2 * self._half + 1)
        self._own = _disc(self._half) * (0 if own is None else cv2.dilate(own, np.ones((3, 3), np.uint8)))
        self._before: Gray | None = None
        self._at, self._speed, self._turn, self._lost = xy, np.zeros(2), 0.0, 0

    def step(self, gray: Gray, moved: Floats | None) -> tuple[Floats, float]:
        """Place in this picture and confidence; NaN and 0 where lost."""
        match = None
        if self._own.mean() < OWN_SHARE:
            pass
        elif self._lost == 0:
            match = self._follow(gray)
        elif self._lost % SEARCH_EVERY == 0:
            match = self._search(gray)
        self._before = gray
        if match is None:
            self._lost += 1
            self._speed = np.zeros(2)
            return np.full(2, np.nan), 0.0
        self._speed = match.xy - self._at if self._lost == 0 else np.zeros(2)
        self._at, self._turn, self._lost = match.xy, match.turn_deg, 0
        return match.xy, float(np.clip(match.agreement, 0.0, 1.0))

    def _follow(self, gray: Gray) -> _Match | None:
        guess = self._at + self._speed
        flowed = None
        if self._before is not None:
            start = self._at.astype(np.float32).reshape(1, 1, 2)
            found, good = round_trip(self._before, gray, start, guess.astype(np.float32).reshape(1, 1, 2))
            flowed = found[0, 0].astype(float) if good[0] else None
        places = [guess] if flowed is None else [flowed, guess]
        matches = [m for place in places if (m := self._match(gray, place, 4, self._near())) is not None]
        best = max(matches, key=lambda m: m.agreement, default=None)
        return best if best is not None and best.agreement >= KEEP else None

    def _near(self) -> list[float]:
        if not self._turns:
            return [0.0]
        return [self._turn + step for step in (-TURN_DEG, -TURN_DEG / 2, 0.0, TURN_DEG / 2, TURN_DEG)]

    def _search(self, gray: Gray) -> _Match | None:
        reach = min(self._reach, self._half + 6 * self._lost)
        turns = [self._turn + s for s in (-20.0, 0.0, 20.0)] if self._turns else [0.0]
        match = self._match(gray, self._at, reach, turns, alone=True)
        return match if match is not None and match.agreement >= FIND else None

    def _match(
        self, gray: Gray, near: Floats, reach: int, turns: list[float], alone: bool = False
    ) -> _Match | None:
        """Best agreement within ``reach`` px of a place; alone: None where a second place is as good."""
        span = self._half + reach
        corner = np.round(near).astype(int) - span
        padded = cut(gray, corner, 2 * span + 1)
        if padded is None:
            return None
        best: _Match | None = None
        for turn in turns:
            scores = self._scores(padded, turn)
            row, column = np.unravel_index(int(np.argmax(scores)), scores.shape)
            top = float(scores[row, column])
            if best is not None and top <= best.agreement:
                continue
            if alone and top - _second(scores, int(row), int(column), self._half) < CLEARLY:
                continue
            shift = np.array([_peak(scores[row], int(column)), _peak(scores[:, column], int(row))])
            best = _Match(corner + self._half + shift + self._fraction(), top, turn)
        return best

    def _fraction(self) -> Floats:
        """Where the marked point lies off the middle of its patch, px."""
        return np.asarray(self._origin - np.round(self._origin))

    def _scores(self, part: np.ndarray, turn: float) -> np.ndarray:
        patch, own = self._patch(turn)
        scores = cv2.matchTemplate(part, patch, cv2.TM_CCOEFF_NORMED, mask=own)
        return np.where(np.isfinite(scores) & (np.abs(scores) <= 1.001), scores, -1.0)

    def _patch(self, turn: float) -> tuple[np.ndarray, np.ndarray]:
        """The marked patch turned by some degrees, and which of its pixels count."""
        key = round(turn, 1)
        if key not in self._patches:
            middle, size = np.round(self._origin), 2 * self._half + 1
            affine = cv2.getRotationMatrix2D((float(middle[0]), float(middle[1])), key, 1.0)
            affine[:, 2] += self._half - middle
            about = cv2.getRotationMatrix2D((float(self._half), float(self._half)), key, 1.0)
            patch = cv2.warpAffine(self._still, affine, (size, size), borderMode=cv2.BORDER_REPLICATE)
            own = cv2.warpAffine(self._own, about, (size, size), flags=cv2.INTER_NEAREST)
            self._patches[key] = patch, own
        return self._patches[key]


def cut(gray: Gray, corner: np.ndarray, size: int) -> np.ndarray | None:
    """A square of the picture, its edge repeated outside; None where it lies wholly outside."""
    height, width = gray.shape
    x, y = int(corner[0]), int(corner[1])
    left, top, right, bottom = max(0, x), max(0, y), min(width, x + size), min(height, y + size)
    if right - left < 2 or bottom - top < 2:
        return None
    edges = (top - y, y + size - bottom, left - x, x + size - right)
    return np.asarray(cv2.copyMakeBorder(gray[top:bottom, left:right], *edges, cv2.BORDER_REPLICATE))


def _disc(half: int) -> np.ndarray:
    y, x = np.mgrid[-half : half + 1, -half : half + 1]
    return np.asarray(np.hypot(x, y) <= half, dtype=np.uint8)


def _second(scores: np.ndarray, row: int, column: int, apart: int) -> float:
    rest = scores.copy()
    rest[max(0, row - apart) : row + apart + 1, max(0, column - apart) : column + apart + 1] = -1.0
    return float(rest.max())


def _peak(line: np.ndarray, i: int) -> float:
    """The top of a parabola through the largest sample and its neighbours."""
    if not 0 < i < len(line) - 1:
        return float(i)
    a, b, c = (float(line[k]) for k in (i - 1, i, i + 1))
    bend = a - 2 * b + c
    return i + (0.5 * (a - c) / bend if bend < -1e-9 else 0.0)
