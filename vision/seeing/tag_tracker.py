"""frames -> tags: find printed tags in a few glimpses, then follow them through every frame.

A tag is looked for near where it was in every frame, and carried on by optical flow for a moment where it
is not found; then it is lost, and looked for in the whole picture now and again. A clip without tags costs
the glimpses alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import cv2
import numpy as np

from shared.domain import Floats, Frame
from shared.tags import TagPlace, board_ids, tag_id, tag_meaning
from vision.common.seams import FrameSource, Progress
from vision.seeing.camera_tracker import Camera
from vision.seeing.gray import LONG_SIDE_PX, STEP_S, Gray, small
from vision.seeing.mark_follow import SEARCH_EVERY, map_px, round_trip
from vision.seeing.marks import Marks
from vision.seeing.tag_finder import Finder, side_px
from vision.seeing.tags import TagPath, tag_point

#: A tag is told by so many glimpses; a clip is glimpsed at from these shares of it on, so often.
SURE = 2
GLIMPSES = ((0.0, 3), (0.5, 2))
GLIMPSE_STEP_S = 0.2
#: What a told machine's tags have not shown by then is looked for closely at so many moments over the clip,
#: and where one is lost in every so many-th search.
CLOSE_GLIMPSES, CLOSELY_EVERY = 4, 6
#: Flow carries a tag no longer than this from where it was last found.
CARRY_S = 0.4
#: A carried tag keeps its size within this share from one frame to the next.
SAME_SIZE = 0.08
#: Flow is told within so many sides of the tag.
FLOW_SIDES = 3.0
#: How sure a carried place is, of 1.
CARRIED = 0.5


def seen_tags(source: FrameSource) -> set[int]:
    """Markers that the glimpses agree about; ClipError where the clip cannot be read."""
    finder, times = Finder(), Counter[int]()
    for frame in _glimpses(source):
        times.update(finder.anywhere(frame.image).keys())
    return {marker for marker, n in times.items() if n >= SURE}


def seen_machines(markers: set[int]) -> list[int]:
    """Numbers of the machines to which markers belong, the one with most of them first."""
    return [number for number, _ in Counter(tag_meaning(m)[0] for m in sorted(markers)).most_common()]


def track_tags(
    source: FrameSource, machine: int, markers: set[int], progress: Progress | None = None
) -> Marks:
    """The paths of one machine's tags by their places, as marks; empty where none was glimpsed."""
    report = progress or (lambda share: None)
    if machine not in seen_machines(markers):
        return {}
    groups: dict[TagPlace, list[int]] = {
        "stack": [tag_id(machine, "stack")], "lever": [tag_id(machine, "lever")], "board": board_ids(machine)
    }  # fmt: skip
    missing = {place: ids for place, ids in groups.items() if not set(ids) & markers}
    told = markers | (_seen_closely(source, missing) if missing else set())
    wanted = {place: ids for place, ids in groups.items() if set(ids) & told}
    walk = _Walk(wanted)
    for frame in source.frames(min_step_s=STEP_S, gray=True):
        walk.step(frame)
        report(min(1.0, frame.time_s / max(source.clip.duration_s, 1e-6)))
    return {place: path for place in wanted if (path := walk.path(place)) is not None}


def _glimpses(source: FrameSource) -> Iterator[Frame]:
    for share, count in GLIMPSES:
        start_s = share * source.clip.duration_s
        end_s = start_s + GLIMPSE_STEP_S * (count - 0.9)
        yield from source.frames(start_s, end_s, GLIMPSE_STEP_S, gray=True)


def _seen_closely(source: FrameSource, missing: dict[TagPlace, list[int]]) -> set[int]:
    """A marker of each place that shows in as many close glimpses as make a tag sure."""
    finder, times = Finder(), Counter[TagPlace]()
    for share in (np.arange(CLOSE_GLIMPSES) + 0.5) / CLOSE_GLIMPSES:
        start_s = float(share) * source.clip.duration_s
        for frame in source.frames(start_s, start_s + 0.5 * GLIMPSE_STEP_S, GLIMPSE_STEP_S, gray=True):
            found = finder.closely(frame.image).keys()
            times.update(place for place, ids in missing.items() if found & set(ids))
    return {missing[place][0] for place, n in times.items() if n >= SURE}


class _Walk:
    """Goes through a clip's frames once and notes where each marker is."""

    def __init__(self, wanted: dict[TagPlace, list[int]]):
        self._wanted, self._finder = wanted, Finder()
        self._followers = {i: _Follower(i, self._finder) for ids in wanted.values() for i in ids}
        self._camera: Camera | None = None
        self._times: list[float] = []
        self._rows: dict[int, list[tuple[Floats, Floats, float]]] = {i: [] for i in self._followers}

    def step(self, frame: Frame) -> None:
        """Note the places in one more frame."""
        gray = frame.image
        scale = min(1.0, LONG_SIDE_PX / max(gray.shape))
        view = small(gray, scale)
        self._camera = self._camera or Camera(view)
        moved = self._camera.step(view)
        whole, (searches, rest) = None, divmod(len(self._times), SEARCH_EVERY)
        turn = rest == 0
        if turn and any(f.lost for f in self._followers.values()):
            closely = searches % CLOSELY_EVERY == 0
            whole = self._finder.closely(gray) if closely else self._finder.anywhere(gray)
        for marker, follower in self._followers.items():
            rows = self._rows[marker]
            if rows and not turn and marker in self._wanted.get("board", ()):
                rows.append(rows[-1])  # it hangs still
                continue
            corners, sure = follower.step(gray, frame.time_s, whole)
            rows.append((corners, _steady(corners, moved, scale), sure))
        self._times.append(frame.time_s)

    def path(self, place: TagPlace) -> TagPath | None:
        """What was noted of a place; None where nothing was."""
        rows = [self._rows[marker] for marker in self._wanted[place]]
        corners, steady = (np.concatenate([[r[k] for r in one] for one in rows], axis=1) for k in (0, 1))
        known = ~np.isnan(corners).all(axis=(1, 2))
        if not known.any():
            return None
        xy, still = (np.full((len(known), 2), np.nan) for _ in range(2))
        xy[known] = np.nanmean(corners[known], axis=1)
        has = ~np.isnan(steady).all(axis=(1, 2))
        still[has] = np.nanmean(steady[has], axis=1)
        first = int(np.argmax(known))
        point = tag_point(place, xy[first], self._times[first])
        sure = np.max([[r[2] for r in one] for one in rows], axis=0)
        return TagPath(point, np.array(self._times), xy, still, sure, corners_px=steady)


def _steady(corners: Floats, moved: Floats | None, scale: float) -> Floats:
    """Corners (4, 2) as in the first picture; NaN where the camera's motion is not known."""
    if moved is None:
        return np.full_like(corners, np.nan)
    back = cv2.invertAffineTransform(moved)
    return np.array([map_px(back, xy * scale) / scale for xy in corners])


class _Follower:
    """One marker from frame to frame."""

    def __init__(self, marker: int, finder: Finder):
        self._marker, self._finder = marker, finder
        self._at: Floats | None = None
        self._speed = np.zeros(2)
        self._before: Gray | None = None
        self._found_s = -np.inf

    @property
    def lost(self) -> bool:
        """Whether it is to be looked for in the whole picture."""
        return self._at is None

    def step(self, gray: Gray, time_s: float, whole: dict[int, Floats] | None) -> tuple[Floats, float]:
        """Corners (4, 2) in this picture and how sure they are; NaN and 0 where lost."""
        corners, sure = None, 1.0
        if self._at is not None:
            corners = self._finder.near(gray, self._marker, self._at + self._speed)
            if corners is None and time_s - self._found_s <= CARRY_S:
                corners, sure = self._carried(gray, self._at), CARRIED
        elif whole is not None:
            corners = whole.get(self._marker)
        self._before = gray
        if corners is None:
            self._at, self._speed = None, np.zeros(2)
            return np.full((4, 2), np.nan), 0.0
        self._speed = np.zeros(2) if self._at is None else (corners - self._at).mean(axis=0)
        self._at = corners
        if sure == 1.0:
            self._found_s = time_s
        return corners, sure

    def _carried(self, gray: Gray, at: Floats) -> Floats | None:
        """The corners by flow there and back; None where one is lost or the tag would change its size."""
        if self._before is None:
            return None
        reach = FLOW_SIDES * side_px(at)
        corner = np.maximum(at.min(axis=0) - reach, 0).astype(int)
        right, bottom = (at.max(axis=0) + reach).astype(int)
        part = np.s_[corner[1] : bottom, corner[0] : right]
        start = (at - corner).astype(np.float32).reshape(-1, 1, 2)
        guess = start + self._speed.astype(np.float32)
        found, good = round_trip(self._before[part], gray[part], start, guess)
        corners = found[:, 0].astype(float) + corner
        same = abs(side_px(corners) / side_px(at) - 1.0) < SAME_SIZE
        return corners if good.all() and same else None
