"""The Protocols between steps that have more than one implementation, on one page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

from shared.domain import Clip, Frame, Landmarks

#: Called with a share of the work done in 0..1.
Progress = Callable[[float], None]

#: Left, top, right, bottom in pixels of the upright picture; right and bottom are outside.
Box = tuple[int, int, int, int]


class FrameSource(Protocol):
    """A clip whose frames can be streamed, more than once; ``vision.clip.open_clip`` makes one."""

    clip: Clip

    def frames(
        self, start_s: float = 0.0, end_s: float | None = None, min_step_s: float = 0.0
    ) -> Iterator[Frame]:
        """Frames in presentation order between two moments, upright RGB.

        min_step_s: leave out frames that follow a delivered one by less than this (minus half a
        millisecond); index and time_s stay those of the clip.
        """
        ...


class PoseEstimator(Protocol):
    """Frames in, landmarks out; model state stays inside one call."""

    name: str

    def detect(self, frames: Iterable[Frame], people: int, box: Box | None = None) -> Landmarks:
        """Landmarks of up to ``people`` people in each frame, in pixels of the whole picture.

        frames come in time order; box: look only inside this part of the picture, with all care;
        without one the look may be a quicker one that only finds people.
        """
        ...
