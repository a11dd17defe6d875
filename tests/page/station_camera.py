"""What a station's camera sees in tests: an empty room, a card held up, a set, and the empty room again."""

from __future__ import annotations

import io
import shutil
from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from sample_clips.recordings import card_picture, without_person
from vision.seeing.clip import open_clip

RATE = 30
CARD_S = 15.0


def chromium_with(playwright: Any, camera: Path) -> Any:
    """A Chromium without a window whose camera is a film, which begins when a page asks for it."""
    flags = ["--no-sandbox", "--disable-gpu", "--use-fake-ui-for-media-stream"]
    flags += ["--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={camera}"]
    return playwright.chromium.launch(executable_path=shutil.which("chromium"), args=flags)


def write_camera(out: Path, clip: Path, seconds: tuple[float, float], card: int, before_s: float) -> None:
    """Motion JPEG at 30 pictures a second for Chromium's camera, which shows it over and over.

    seconds: of the clip from where to where; card: held up before it; before_s: how long the room is empty
    first, and afterwards for a minute.
    """
    pictures = [frame.image for frame in open_clip(clip).frames(*seconds)]
    room = _jpeg(without_person(pictures[0]))
    with out.open("wb") as film:
        film.write(room * round(before_s * RATE))
        for image in chain(_held(pictures[0], card), pictures):
            film.write(_jpeg(image))
        film.write(room * (60 * RATE))


def _jpeg(image: Any) -> bytes:
    held = io.BytesIO()
    Image.fromarray(image).save(held, "JPEG", quality=80)
    return held.getvalue()


def _held(image: Any, card: int) -> Iterator[Any]:
    """The person with the card before them, swaying a little."""
    sheet = card_picture(card, round(image.shape[1] * 0.25))
    for k in range(round(CARD_S * RATE)):
        shown = image.copy()
        x, y = round(image.shape[1] * 0.4 + 4 * np.sin(k / 9)), round(image.shape[0] * 0.45)
        shown[y : y + len(sheet), x : x + len(sheet)] = sheet[..., None]
        yield shown
