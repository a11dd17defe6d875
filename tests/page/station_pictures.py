"""A station's phone while somebody trains and when the count is there: a part of ``make pictures``."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import expect

from tests.page.station_camera import chromium_with, write_camera
from tests.page.test_browser import PHONE, SAMPLE, SOON, _serving, free_port
from tests.page.test_station_filmed import EMPTY_S, FROM_TO, REPS, Made

#: A repetition is on its way up when the first picture is taken, ms after filming was told.
INTO_IT_MS = 14_000


def photograph(playwright: Any, out: Path, **look: Any) -> Iterator[Path]:
    """Two pictures of a phone, taken as a member shows a card, trains and reads the count.

    look: of the browser's window, else a phone's in light colours.
    """
    with tempfile.TemporaryDirectory() as folder:
        made, camera = Made(Path(folder) / "data"), Path(folder) / "camera.mjpeg"
        write_camera(camera, SAMPLE, FROM_TO, card=made.card, before_s=EMPTY_S)
        browser = chromium_with(playwright, camera)
        with _serving(made.data, free_port()) as served:
            page = browser.new_page(**({"viewport": PHONE} | look))
            page.set_default_timeout(SOON)
            page.goto(f"{served.address}/station/enter/{made.secret}")
            page.get_by_role("button", name="Start the station").click()
            page.get_by_role("button", name="No", exact=True).click()
            expect(page.locator(".big")).to_have_text("Recording", timeout=SOON)
            page.wait_for_timeout(INTO_IT_MS)
            yield _taken(page, out / "station-recording.jpg")
            expect(page.locator(".big")).to_have_text(f"{REPS} reps", timeout=SOON)
            yield _taken(page, out / "station-count.jpg")
        browser.close()
        made.database.close()


def _taken(page: Any, path: Path) -> Path:
    page.screenshot(path=path, type="jpeg", quality=80)
    return path
