"""Rendered clips as a poor phone in somebody's hand would have taken them: small, dark, noisy, unsteady.

python -m sample_clips.made_worse CLIPS --out FOLDER [--every 2]

What was done in a clip and when stays as its truth says, and so it is copied beside it; how the picture was
spoilt is drawn from the clip's name, and written to ``made_worse.json``. Truths in pixels no longer hold.
"""

from __future__ import annotations

import argparse
import json
import zlib
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from sample_clips.redrawn import Moment, copy_truth, with_truth, write
from shared.domain import Floats, Image
from vision.seeing.clip import open_clip

#: A wandering hand is three slow sines and a tremor: Hz, and the share of the whole that each makes.
RATES_HZ, PARTS = (
    np.array([[0.13, 0.37, 1.1], [0.17, 0.41, 1.7], [0.11, 0.3, 0.9]]),
    np.array([0.6, 0.3, 0.1]),
)
#: The picture turns by so many radians for each of its sides that the hand wanders.
TURN_PER_SIDE = 0.5
#: A hand that sways turns more and is quicker: Hz across, down and turning; radians for each of the sides.
SWAYS_HZ, SWAY_TURN = np.array([1.3, 1.9, 2.5]), 1.25
#: Light that pulses, as an exposure that hunts or a lamp that the phone's shutter beats with: Hz.
PULSE_HZ = 1.7
#: It is shown so much larger; where edges of the picture show all the same, they are mirrored.
GROWN = 1.04


@dataclass(frozen=True)
class Worse:
    """How a clip is spoilt.

    short_px: its shorter side; light: of 1; noise: grey levels; rate_hz: pictures a second at most; crf: how
    strongly it is compressed; roll_deg: the phone is held so crooked; wander: slowly, and sway: quickly, by a
    share of the picture's sides; blurred: every picture is the mean of two; pulse: a share of the light.
    """

    short_px: int
    light: float
    noise: float
    rate_hz: int
    crf: int
    roll_deg: float
    wander: float
    blurred: bool
    sway: float
    pulse: float

    @classmethod
    def drawn(cls, rng: np.random.Generator) -> Worse:
        """One drawn at random."""
        quick = rng.spawn(1)[0]
        return cls(
            short_px=int(rng.choice([300, 360, 420, 480])), light=float(rng.choice([0.5, 0.65, 0.85, 1.0])),
            noise=float(rng.choice([0.0, 2.0, 4.0, 7.0])), rate_hz=int(rng.choice([24, 30])),
            crf=int(rng.choice([26, 31, 35])), roll_deg=round(float(rng.uniform(-6, 6)), 1),
            wander=float(rng.choice([0.0, 0.006, 0.015, 0.03])),
            blurred=bool(rng.random() < 1 / 3),
            sway=float(quick.choice([0.0, 0.0, 0.007, 0.014])),
            pulse=float(quick.choice([0.0, 0.0, 0.1, 0.25])),
        )  # fmt: skip


def spoil(clip: Path, out: Path) -> Worse:
    """Write one clip made worse, and its truth, to a folder; how it is spoilt is the same every time."""
    rng = np.random.default_rng(zlib.crc32(clip.name.encode()))
    how, phase = Worse.drawn(rng), rng.uniform(0, 2 * np.pi, (3, 3))
    shown = (
        (
            time_s,
            _spoilt(image, how, _wander(how, phase, time_s), _light(how, time_s), np.random.default_rng(k)),
        )
        for k, (time_s, image) in enumerate(_pictures(clip, how))
    )
    write(shown, out / clip.name, rate_hz=how.rate_hz, crf=how.crf)
    copy_truth(clip, out)
    return how


def _pictures(clip: Path, how: Worse) -> Iterator[Moment]:
    """Moments and pictures, no more a second than the worse phone takes."""
    due, before = 0.0, None
    for frame in open_clip(clip).frames():
        time_s, image = frame.time_s, frame.image
        both, before = before, image
        if time_s + 0.5 / how.rate_hz < due:
            continue
        due += 1 / how.rate_hz
        mixed = image if both is None or not how.blurred else (image.astype(np.uint16) + both) // 2
        yield time_s, np.ascontiguousarray(mixed, np.uint8)


def _wander(how: Worse, phase: Floats, time_s: float) -> Floats:
    """Across, down (shares of the sides) and turn (radians) of the hand at a moment."""
    way = (PARTS * np.sin(2 * np.pi * RATES_HZ * time_s + phase)).sum(axis=1)
    slow = how.wander * way * [1.0, 1.0, TURN_PER_SIDE]
    quick = how.sway * np.sin(2 * np.pi * SWAYS_HZ * time_s + phase[:, 0]) * [1.0, 1.0, SWAY_TURN]
    return np.asarray(slow + quick)


def _light(how: Worse, time_s: float) -> float:
    return how.light * (1.0 + how.pulse * float(np.sin(2 * np.pi * PULSE_HZ * time_s)))


def _spoilt(image: Image, how: Worse, wander: Floats, light: float, rng: np.random.Generator) -> Image:
    height, width = image.shape[:2]
    scale = min(1.0, how.short_px / min(height, width))
    size = (int(width * scale) // 2 * 2, int(height * scale) // 2 * 2)
    turn = how.roll_deg + float(np.degrees(wander[2]))
    there = cv2.getRotationMatrix2D((width / 2, height / 2), turn, GROWN)
    there[:, 2] += wander[:2] * [width, height]
    soft = cv2.GaussianBlur(image, (0, 0), max(0.3, 0.35 / scale))
    shown = cv2.warpAffine(soft, there * scale, size, borderMode=cv2.BORDER_REFLECT).astype(float)
    noisy = shown * light + rng.normal(0.0, max(how.noise, 1e-3), shown.shape)
    return np.clip(noisy, 0, 255).astype(np.uint8)


def main(argv: list[str] | None = None) -> int:
    """Spoil the clips of a folder that have a truth."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("clips", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--every", type=int, default=1, help="take every n-th clip")
    asked = parser.parse_args(argv)
    asked.out.mkdir(parents=True, exist_ok=True)
    chosen = with_truth(asked.clips)[:: asked.every]
    with ProcessPoolExecutor() as pool:
        told: dict[str, Any] = {}
        for clip, how in zip(chosen, pool.map(partial(spoil, out=asked.out), chosen), strict=True):
            told[clip.stem] = asdict(how)
            print(clip.stem)
    (asked.out / "made_worse.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
