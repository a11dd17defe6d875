"""The Protocols between steps that have more than one implementation, on one page."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol

from shared.domain import Clip, Frame, Landmarks

#: Called with a share of the work done in 0..1.
Progress = Callable[[float], None]


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
    """Frames in, landmarks out; model state and clean-up stay inside."""

    name: str

    def estimate(self, source: FrameSource, progress: Progress | None = None) -> Landmarks:
        """Landmarks of the people in the clip, subject in any slot."""
        ...
