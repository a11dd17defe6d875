"""The Protocols between steps that have more than one implementation, on one page."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

from shared.domain import Clip, Floats, Frame, Landmarks

#: Called with a share of the work done in 0..1.
Progress = Callable[[float], None]

#: Called with a frame that was looked at, and who was found in it: points (33, 2) px, None nobody.
Found = Callable[[Frame, Floats | None], None]

#: Left, top, right, bottom in pixels of the upright picture; right and bottom are outside.
Box = tuple[int, int, int, int]


class FrameSource(Protocol):
    """A clip whose frames can be streamed, more than once; ``vision.seeing.clip.open_clip`` makes one."""

    clip: Clip

    def frames(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        min_step_s: float = 0.0,
        gray: bool = False,
    ) -> Iterator[Frame]:
        """Frames in presentation order between two moments, upright, RGB (H, W, 3).

        min_step_s: leave out frames that follow a delivered one by less than this (minus half a
        millisecond); index and time_s stay those of the clip. gray: pictures (H, W) of the clip's luma,
        which cost less than colours do.
        """
        ...


class LimbSource(FrameSource, Protocol):
    """A clip whose limbs can be followed from picture to picture while it is looked at."""

    def with_gray(
        self, start_s: float, end_s: float | None, min_step_s: float, gray_step_s: float
    ) -> Iterator[Frame]:
        """The coloured frames that ``frames`` gives, and in the same reading grey ones (H, W) among them.

        Of every coloured frame the grey one as well, just before it, and of the frames between two of them as
        many as are ``gray_step_s`` apart; both steps as ``min_step_s`` there.
        """
        ...


class PoseEstimator(Protocol):
    """Frames in time order in, landmarks in pixels of the whole picture out; no state between calls."""

    name: str

    def survey(self, frames: Iterable[Frame], people: int) -> Landmarks:
        """Up to ``people`` people in each frame, well enough to tell where they are."""
        ...

    def follow(
        self, frames: Iterable[Frame], box: Box, mirrored: bool = False, found: Found | None = None
    ) -> Landmarks:
        """One person, with all care, looking only inside this part of the picture.

        mirrored: look at the mirror image, and say where things lie in the picture itself. found: told of
        each look before the next frame is asked for.
        """
        ...
