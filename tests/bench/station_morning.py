"""Command: python -m tests.bench.station_morning --out DIR.

Composes the recording of ``station_morning.toml``, gives it to a Chromium as its camera, and lets the
station's page and the page's own queue run on it. Held against the truth: what stood on the screen, how long
after the last repetition, whose sets were kept, what else lies in the store.

The film's own time is written into a corner of its pictures and read back from the page, so that a slow
machine shifts nothing.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from playwright.sync_api import Page, sync_playwright
from sqlalchemy import select

from app.store.database import Database
from app.store.models import TrainingSet
from app.store.settings import DATA, store_settings
from sample_clips.recordings import HERE, compose, read_plan
from tests.bench.morning import MACHINE, held, studio
from tests.page.station_camera import chromium_with
from tests.page.test_browser import PHONE, _serving, free_port
from vision.seeing.clip import open_clip

PLAN = Path(__file__).with_name("station_morning.toml")
#: Who answers the question about pain at the station.
ASKED = "Ilse"
#: Chromium takes motion JPEG for so many pictures a second.
RATE = 30
#: The film's time in quarters of a second: so many bits, each a square of so many pixels.
BITS, SIDE_PX = 11, 8
LOOK_MS = 200
#: What the screen says, and which second of the film it shows; the question about pain is answered with No.
LOOK = f"""() => {{
  const video = document.querySelector("video"), side = {SIDE_PX};
  const pen = new OffscreenCanvas({BITS} * side, side).getContext("2d");
  pen.drawImage(video, 0, 0);
  let quarters = 0;
  for (let bit = 0; bit < {BITS}; bit += 1)
    quarters = 2 * quarters + (pen.getImageData(bit * side + side / 2, side / 2, 1, 1).data[0] > 127 ? 1 : 0);
  const ask = document.querySelector(".ask");
  const words = (one) => [one, document.querySelector("." + one).textContent];
  const said = Object.fromEntries(["name", "big", "more", "said"].map(words));
  if (!ask.hidden) ask.querySelector(".no").click();
  return {{ at_s: quarters / 4, ...said, light: !document.querySelector(".light").hidden }}; }}"""


def main() -> None:
    """Print what came of the morning as JSON."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.station_morning")
    parser.add_argument("--out", type=Path, required=True)
    out = parser.parse_args().out
    (plan,) = read_plan(PLAN)
    recording, camera = out / "station.mp4", out / "station.mjpeg"
    if not camera.exists():
        compose(plan["part"], recording, [HERE])
        with camera.with_suffix(".part").open("wb") as film:
            film.writelines(pictures(recording))
        camera.with_suffix(".part").replace(camera)
    truth = json.loads(recording.with_suffix(".truth.json").read_text())
    data = (out / "data").absolute()
    shutil.rmtree(data, ignore_errors=True)
    os.environ[DATA] = str(data)
    database, files, access = studio(store_settings(), silent=ASKED)
    secret, load = access.make_station(MACHINE), os.getloadavg()
    with _serving(data, free_port()) as served:
        screen = watched(f"{served.address}/station/enter/{secret}", camera, truth["duration_s"])
        wait_for_checks(database)
    row = {
        "load_before_and_after": [round(one[0], 1) for one in (load, os.getloadavg())],
        "shown": shown(screen, truth["sets"]),
        "screen": [" | ".join(str(value) for value in words.values()) for words in screen],
        **held(database, files, access, truth["sets"], out),
    }
    print(json.dumps(row, indent=1))
    (out / "measured.json").write_text(json.dumps(row, indent=1) + "\n")


def pictures(recording: Path) -> Iterator[bytes]:
    """The recording at ``RATE`` pictures a second, each a JPEG with its time in the corner."""
    written = 0
    for frame in open_clip(recording).frames():
        while written / RATE <= frame.time_s:
            yield _stamped(frame.image, round(4 * written / RATE))
            written += 1


def _stamped(image: np.ndarray, quarters: int) -> bytes:
    stamped = image.copy()
    for bit in range(BITS):
        left = bit * SIDE_PX
        stamped[:SIDE_PX, left : left + SIDE_PX] = 255 * (quarters >> (BITS - 1 - bit) & 1)
    held = io.BytesIO()
    Image.fromarray(stamped).save(held, "JPEG", quality=85)
    return held.getvalue()


def watched(address: str, camera: Path, duration_s: float) -> list[dict[str, Any]]:
    """Each new thing that stood on the screen while the film ran once, with its moment in the film."""
    with sync_playwright() as playwright:
        browser = chromium_with(playwright, camera)
        page = browser.new_page(viewport=PHONE)
        page.goto(address)
        page.get_by_role("button", name="Start the station").click()
        screen = list(changes(page, duration_s - 2.0))
        browser.close()
    return screen


def changes(page: Page, until_s: float) -> Iterator[dict[str, Any]]:
    """What stands on the screen whenever it is something new; load: of the machine, by then."""
    before: dict[str, Any] = {}
    while (now := page.evaluate(LOOK))["at_s"] < until_s:
        if {**now, "at_s": 0} != before:
            yield {**now, "load": round(os.getloadavg()[0], 1)}
        before = {**now, "at_s": 0}
        page.wait_for_timeout(LOOK_MS)


def shown(screen: list[dict[str, Any]], true: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Of each true set the first count on the screen after it and before the next one ends."""
    ends = [one["end_s"] for one in true] + [float("inf")]
    counts = [words for words in screen if words["big"].endswith((" rep", " reps"))]
    rows = []
    for one, end_s, next_s in zip(true, ends, ends[1:], strict=False):
        words = next((words for words in counts if end_s < words["at_s"] < next_s), None)
        row = {"who": one["who"], "count": one["count"], "name": None, "said": None, "after_s": None}
        if words is not None:
            row |= {"name": words["name"], "said": words["big"], "after_s": round(words["at_s"] - end_s, 1)}
        rows.append(row)
    return rows


def wait_for_checks(database: Database) -> None:
    """Until the page's queue has checked all that was kept."""
    checking = select(TrainingSet.id).where(TrainingSet.status == "checking")
    while True:
        with database.read() as session:
            if session.scalar(checking) is None:
                return
        time.sleep(2.0)


if __name__ == "__main__":
    main()
