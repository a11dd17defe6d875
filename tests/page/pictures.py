"""The pictures of README and docs, from a sample clip, and all screens of the demo studio: ``make pictures``.

The clip goes through the product's own check, so heads are hidden as in everything that is written. The phone
at a station shows what its camera sees. The screens come to result/screens, in both themes and at both sizes,
to be looked at.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from playwright.sync_api import expect, sync_playwright

from app.command.page import use_store
from app.page import studio as studio_page
from app.page.demo_studio import build
from app.page.studio import Studio, this_studio
from app.store.rules import Actor
from app.store.signin import session_for, trainers
from tests.page import gallery, station_pictures

ROOT = Path(__file__).parents[2]
OUT, SCREENS = ROOT / "docs" / "pictures", ROOT / "result" / "screens"
CLIP, FLAG = "leg-extension-faulty.mp4", "knee-lockout:4"
#: The most that one may take up in the repository, in bytes.
LARGEST = 200_000
WINDOW = {"width": 1200, "height": 935}
#: Only what hangs ends here.
LONGEST_MS = 120_000


def main() -> int:
    """Check the clip, write the pictures; exit code 1 when one is too large."""
    OUT.mkdir(exist_ok=True)
    moment, page = OUT / "flagged-moment.jpg", OUT / "trainers-page.jpg"
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        use_store(Path(folder))
        build(Path(folder))
        studio = this_studio()
        sets = gallery.judge(studio, CLIP)
        moment.write_bytes(_flagged(studio, sets[CLIP]))
        browser = _chromium(playwright)
        with _served() as address:
            _photograph(browser, address, f"/review?set={sets[CLIP]}", _session(studio), page)
            taken = _screens(studio, address, browser, sets)
        browser.close()
        station = list(station_pictures.photograph(playwright, OUT))
    for path in (moment, page, *station):
        sys.stdout.write(f"docs/pictures/{path.name}: {path.stat().st_size / 1000:.0f} kB\n")
    sys.stdout.write(f"result/screens: {taken} pictures\n")
    return int(any(path.stat().st_size > LARGEST for path in (moment, page, *station)))


def _screens(studio: Studio, address: str, browser: Any, sets: dict[str, int]) -> int:
    """Every screen, after one set of the first member was handed over; how many pictures."""
    shutil.rmtree(SCREENS, ignore_errors=True)
    SCREENS.mkdir(parents=True)
    gallery.hand_over(studio, sets["lat-pulldown-faulty.mp4"])
    taken = gallery.photograph(studio, address, browser, SCREENS, list(sets.values()), person=2)
    return sum(1 for _ in taken)


def _flagged(studio: Studio, set_id: int) -> bytes:
    """The picture of the flag as the product made it."""
    runa = trainers(studio.database)[0]
    picture = studio.access(Actor(runa.id, runa.name, runa.role)).picture(set_id, FLAG)
    if picture is None:
        raise SystemExit(f"{CLIP} has no picture of {FLAG} any more; name another of its flags here.")
    return picture


@contextmanager
def _served() -> Iterator[str]:
    """The page on the studio that the environment names, without workers; its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    command = [sys.executable, "-m", "app.serve", "--host", "127.0.0.1", "--port", str(port)]
    page = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    try:
        assert page.stdout is not None
        while "URL:" not in (line := page.stdout.readline()):
            if not line:
                raise SystemExit("The page did not start.")
        yield f"http://127.0.0.1:{port}"
    finally:
        page.terminate()
        page.communicate()


def _session(studio: Studio) -> str:
    """What lets the trainer in."""
    runa = trainers(studio.database)[0]
    return session_for(studio.database, Actor(runa.id, runa.name, runa.role))


def _chromium(playwright: Any) -> Any:
    chromium = shutil.which("chromium")
    if chromium is None:
        raise SystemExit("The page is photographed in Chromium: apt-get install chromium")
    return playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox", "--disable-gpu"])


def _photograph(browser: Any, address: str, path: str, session: str, out: Path) -> None:
    """A trainer's window on the set, its clip at the flagged moment where it opens."""
    page = browser.new_page(viewport=WINDOW)
    page.context.add_cookies([{"name": studio_page.DEMO_COOKIE, "value": session, "url": address}])
    page.set_default_timeout(LONGEST_MS)
    page.goto(f"{address}{path}")
    video = page.locator("video").first
    video.evaluate("v => v.readyState > 0 || new Promise(r => v.addEventListener('loadedmetadata', r))")
    running = page.get_by_test_id("stApp")
    expect(running).to_have_attribute("data-test-script-state", "notRunning", timeout=LONGEST_MS)
    video.evaluate("v => v.pause()")
    video.evaluate("v => !v.seeking || new Promise(r => v.addEventListener('seeked', r))")
    page.get_by_test_id("stMain").evaluate("e => e.scrollTo(0, 0)")
    page.screenshot(path=out, type="jpeg", quality=80)
    page.context.close()


if __name__ == "__main__":
    sys.exit(main())
