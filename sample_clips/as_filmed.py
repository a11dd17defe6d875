"""Rendered clips as people film themselves: the phone is handled, slips, or its clip stalls.

python -m sample_clips.as_filmed CLIPS --out FOLDER --way slipped

What was done in a clip and when stays as its truth says, and so it is copied beside it; how far and when is
drawn from the clip's name. Truths in pixels no longer hold. One folder a way.
"""

from __future__ import annotations

import argparse
import zlib
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from sample_clips.redrawn import Moment, copy_truth, with_truth, write
from shared.domain import Floats, Image
from vision.seeing.clip import open_clip

#: The phone is put on its stand, and taken from it, in so many s.
HANDLED_S = 2.2
#: It slips within so many s, by up to this share of the sides and so many degrees.
SLIPS_S, SLIPS, ROLLS_DEG = 0.4, 0.06, 5.0
#: A clip stalls so often, each time for so many s.
STALLS, STALLS_S = 5, (0.3, 0.8)
#: It is zoomed out to this within so many s.
ZOOMED, ZOOMS_S = 0.75, 1.2
RATE_HZ, CRF = 30, 23
Way = Callable[[Iterator[Moment], float, np.random.Generator], Iterator[Moment]]


def handled(shown: Iterator[Moment], length_s: float, rng: np.random.Generator) -> Iterator[Moment]:
    """Put on its stand at the beginning and taken from it at the end: swung, turned, blurred, covered."""
    there = rng.uniform(0.4, 0.9, 2) * rng.choice([-1, 1], 2)
    turn_deg, size = rng.uniform(25, 70) * rng.choice([-1, 1]), rng.uniform(1.2, 1.8)
    for time_s, image in shown:
        away = max(1.0 - _eased(time_s / HANDLED_S), _eased((time_s - length_s + HANDLED_S) / HANDLED_S))
        if away > 0.0:
            image = _moved(image, away * there, away * turn_deg, 1.0 + (size - 1.0) * away)
            image = cv2.blur(image, (int(25 * away) | 1, 1))
            image = np.asarray(image * (0.15 if away > 0.93 else 1.0), np.uint8)
        yield time_s, image


def slipped(shown: Iterator[Moment], length_s: float, rng: np.random.Generator) -> Iterator[Moment]:
    """It slips on its stand at one moment in the middle, and stays so."""
    at_s, there = length_s * rng.uniform(0.3, 0.6), rng.uniform(-SLIPS, SLIPS, 2)
    turn_deg = rng.uniform(-ROLLS_DEG, ROLLS_DEG)
    for time_s, image in shown:
        away = _eased((time_s - at_s) / SLIPS_S)
        yield time_s, _moved(image, away * there, away * turn_deg, 1.02)


def zoomed(shown: Iterator[Moment], length_s: float, rng: np.random.Generator) -> Iterator[Moment]:
    """Whoever films zooms out a little before the middle."""
    for time_s, image in shown:
        away = _eased((time_s - 0.45 * length_s) / ZOOMS_S)
        yield time_s, _moved(image, np.zeros(2), 0.0, 1.0 - (1.0 - ZOOMED) * away)


def stalled(shown: Iterator[Moment], length_s: float, rng: np.random.Generator) -> Iterator[Moment]:
    """Now and then the picture stands still, and then jumps to where things are."""
    begins_s, lasts_s = rng.uniform(4.0, max(4.0, length_s - 4.0), STALLS), rng.uniform(*STALLS_S, STALLS)
    last: Image | None = None
    for time_s, image in shown:
        stands = ((begins_s <= time_s) & (time_s < begins_s + lasts_s)).any()
        last = image if last is None or not stands else last
        yield time_s, last


def doubled(shown: Iterator[Moment], length_s: float, rng: np.random.Generator) -> Iterator[Moment]:
    """Every picture twice, as where light is short or a clip was written anew."""
    last: Image | None = None
    for index, (time_s, image) in enumerate(shown):
        last = image if last is None or index % 2 == 0 else last
        yield time_s, last


WAYS: dict[str, Way] = {way.__name__: way for way in (handled, slipped, zoomed, stalled, doubled)}


def film(clip: Path, out: Path, way: str) -> str:
    """Write one clip as it is filmed, and its truth, to a folder; the same every time. Gives its name."""
    rng = np.random.default_rng(zlib.crc32(f"{way}{clip.stem}".encode()))
    source = open_clip(clip)
    there = ((frame.time_s, frame.image) for frame in source.frames())
    shown = WAYS[way](there, source.clip.duration_s, rng)
    write(shown, out / clip.name, rate_hz=RATE_HZ, crf=CRF)
    copy_truth(clip, out)
    return clip.stem


def _eased(share: float) -> float:
    """From 0 to 1 with a soft beginning and end."""
    share = min(1.0, max(0.0, share))
    return share * share * (3.0 - 2.0 * share)


def _moved(image: Image, there: Floats, turn_deg: float, size: float) -> Image:
    """The picture moved by shares of its sides, turned and enlarged; edges that show are mirrored."""
    height, width = image.shape[:2]
    map_ = cv2.getRotationMatrix2D((width / 2, height / 2), turn_deg, size)
    map_[:, 2] += there * [width, height]
    return np.asarray(cv2.warpAffine(image, map_, (width, height), borderMode=cv2.BORDER_REFLECT), np.uint8)


def main(argv: list[str] | None = None) -> int:
    """Film the clips of a folder that have a truth."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("clips", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--way", choices=WAYS, required=True)
    asked = parser.parse_args(argv)
    asked.out.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor() as pool:
        for name in pool.map(partial(film, out=asked.out, way=asked.way), with_truth(asked.clips)):
            print(name)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
