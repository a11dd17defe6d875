"""A printed sheet in real footage: the PDF rasterised, its stack tag pasted into the open clip of two people.

Held against it: that our finder sees no tag in the clip as it is, and follows the pasted one to a pixel.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest

from app.page.tag_sheets import write_tags
from shared.domain import Frame
from shared.exercise import find_exercise
from shared.tags import QUIET_SHARE, SIDE_CM, tag_id
from tests.outside.registry import member, wheel
from vision.seeing.clip import ClipSource, open_clip
from vision.seeing.tag_finder import Finder, side_px
from vision.seeing.tag_tracker import seen_tags, track_tags

MACHINE = 2
SIDE_PX = 34.0
SECONDS = 3.0


@pytest.fixture(scope="module")
def real() -> ClipSource:
    return open_clip(member(wheel("sports2d", "0.8.34"), "Sports2D/Demo/demo.mp4"))


@pytest.fixture(scope="module")
def printed(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    """The stack tag with its white edge, cut out of the rasterised sheet, SIDE_PX a side."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm of poppler-utils is not installed: no PDF can be rasterised")
    folder: Path = tmp_path_factory.mktemp("tags")
    write_tags(find_exercise("leg-extension"), folder / "tags.pdf")
    command = ["pdftoppm", "-r", "100", "-f", "2", "-l", "2", "-gray", "-png", "tags.pdf", "sheet"]
    subprocess.run(command, cwd=folder, check=True)
    sheet = cv2.imread(str(next(folder.glob("sheet*.png"))), cv2.IMREAD_GRAYSCALE)
    corners = Finder().anywhere(sheet)[tag_id(MACHINE, "stack")]
    assert side_px(corners) == pytest.approx(SIDE_CM["stack"] / 2.54 * 100, rel=0.01), (
        "printed at its true size"
    )
    edge = 0.8 * QUIET_SHARE * side_px(corners)
    (left, top), (right, bottom) = corners.min(axis=0) - edge, corners.max(axis=0) + edge
    cut = sheet[round(top) : round(bottom), round(left) : round(right)]
    share = SIDE_PX / side_px(corners)
    return cv2.resize(cut, None, fx=share, fy=share, interpolation=cv2.INTER_AREA)


class Pasted:
    """The real clip's first seconds with the tag moving up and down at its left edge."""

    def __init__(self, source: ClipSource, paper: np.ndarray):
        self.clip, self._source, self._paper = source.clip, source, paper

    def place(self, t: float) -> np.ndarray:
        return np.array([60.0, 0.55 * self.clip.height - 50.0 * (1 - np.cos(2.0 * t))])

    def frames(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        min_step_s: float = 0.0,
        gray: bool = True,
    ) -> Iterator[Frame]:
        end_s = SECONDS if end_s is None else min(end_s, SECONDS)
        height, width = self._paper.shape
        for frame in self._source.frames(start_s, end_s, min_step_s, gray):
            move = np.array([[1.0, 0, 0], [0, 1.0, 0]])
            move[:, 2] = self.place(frame.time_s) - ((width - 1) / 2, (height - 1) / 2)
            size = (self.clip.width, self.clip.height)
            ink = cv2.warpAffine(self._paper, move, size, flags=cv2.INTER_LINEAR)
            share = cv2.warpAffine(np.ones_like(self._paper, np.float32), move, size)
            image = (frame.image * (1 - share) + 0.8 * ink * share).astype(np.uint8)
            yield Frame(frame.index, frame.time_s, image)


def test_the_clip_as_it_is_shows_no_tag(real: ClipSource) -> None:
    assert seen_tags(real) == set()


def test_the_printed_tag_is_found_and_followed(real: ClipSource, printed: np.ndarray) -> None:
    source = Pasted(real, printed)
    markers = seen_tags(source)
    assert markers == {tag_id(MACHINE, "stack")}
    path = track_tags(source, MACHINE, markers)["stack"]
    true = np.array([source.place(t) for t in path.time_s])
    assert path.seen.mean() > 0.95
    assert np.nanmax(np.linalg.norm(path.xy_px - true, axis=1)) < 1.0
