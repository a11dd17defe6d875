"""A member's phone in Chromium: filmed by a camera that is a file, killed on the way, and all arrives."""

from __future__ import annotations

import hashlib
import re
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import av
import pytest

from app.store.database import open_database
from app.store.models import TrainingSet
from tests.page.test_browser import (
    LAPTOP,
    PHONE,
    SAMPLE,
    SOON,
    Served,
    _add_member,
    _become_trainer,
    _fits,
    _settled,
    _window,
    free_port,
    served,
    sync_api,
)
from vision.seeing.clip import open_clip

__all__ = ["served"]  # a fixture
expect = sync_api.expect
#: Frames of the sample that the camera shows over and over.
FRAMES = 60
MOST_TOUCHES = 8
OUTBOX = "import('/ours/posting.js')"
#: How many clips lie in the browser, and whether this window may offer the first one.
IN_HAND = f"""{OUTBOX}.then(async ({{ outbox }}) => {{
  if (!outbox.who) await new Promise((open) => outbox.addEventListener("change", open, {{ once: true }}));
  const clips = await outbox.shelf.all(outbox.who);
  return [clips.length, await outbox.hold(clips[0])];
}})"""


@pytest.fixture
def camera(tmp_path: Path) -> Path:
    """What the camera sees."""
    out = tmp_path / "camera.mjpeg"
    with av.open(str(SAMPLE)) as source, av.open(str(out), "w", format="mjpeg") as film:
        stream = film.add_stream("mjpeg", rate=30)
        stream.width, stream.height, stream.pix_fmt = 480, 854, "yuvj420p"
        for _, frame in zip(range(FRAMES), source.decode(video=0), strict=False):
            film.mux(stream.encode(av.VideoFrame.from_ndarray(frame.to_ndarray(format="rgb24"))))
        film.mux(stream.encode(None))
    return out


@contextmanager
def _phone(
    browser: sync_api.Browser, folder: Path, camera: Path
) -> Iterator[tuple[subprocess.Popen[bytes], sync_api.Page]]:
    """A browser of its own process with its own profile, to be killed."""
    chromium, port = shutil.which("chromium"), free_port()
    assert chromium
    flags = ["--headless=new", "--hide-scrollbars", "--no-sandbox", "--disable-gpu", "--no-first-run",
             "--disable-background-networking", "--use-fake-ui-for-media-stream",
             "--use-fake-device-for-media-stream", f"--use-file-for-fake-video-capture={camera}",
             f"--remote-debugging-port={port}", f"--user-data-dir={folder}", "about:blank"]  # fmt: skip
    process = subprocess.Popen([chromium, *flags], stderr=subprocess.PIPE)
    assert process.stderr is not None
    while b"DevTools listening" not in process.stderr.readline():
        assert process.poll() is None
    try:
        page = browser.browser_type.connect_over_cdp(f"http://127.0.0.1:{port}").contexts[0].pages[0]
        page.set_default_timeout(SOON)
        page.set_viewport_size(PHONE)
        yield process, page
    finally:
        process.kill()
        process.wait()
        process.stderr.close()


def _watched(page: sync_api.Page) -> list[str]:
    """What the console says is wrong."""
    said: list[str] = []
    page.on("console", lambda m: said.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: said.append(str(e)))
    return said


def _hold(page: sync_api.Page) -> None:
    """Let no piece of a clip reach the store, as on a network that has just gone."""
    page.route("**/*", lambda route: None if route.request.method == "PATCH" else route.continue_())


def _a_piece_is_sent(page: sync_api.Page) -> Any:
    return page.expect_request(lambda request: request.method == "PATCH", timeout=SOON)


def _start_filming(page: sync_api.Page) -> int:
    """From a new member's first screen to the camera that counts down; how many touches that takes."""
    touched = (
        page.locator("[class*=st-key-circ-leg-extension]").get_by_role("link", name="Film"),
        page.get_by_role("radio", name="No", exact=True),
        page.get_by_text("I agree that my clip is checked"),
        page.get_by_role("button", name="Film here"),
        page.get_by_role("button", name=re.compile("^Start")),
    )
    for one in touched:
        _settled(page)  # a touch on what is just being drawn anew is lost
        one.click()
    return len(touched)


def _sent_files(data: Path) -> list[Path]:
    database = open_database(f"sqlite:///{data / 'plumbset.db'}")
    try:
        with database.read() as session:
            clips = [row.clip for row in session.query(TrainingSet)]
    finally:
        database.close()
    return [data / "files" / clip[:2] / clip for clip in clips if clip]


@pytest.mark.browser
def test_a_set_is_filmed_in_eight_touches_and_outlives_a_browser_killed_twice(
    served: Served, browser: sync_api.Browser, tmp_path: Path, camera: Path
) -> None:
    trainer = _window(browser, served, LAPTOP)
    _become_trainer(trainer, served)
    link = _add_member(trainer, "Ilse")
    profile = tmp_path / "phone"
    touches = 1  # the link itself

    with _phone(browser, profile, camera) as (process, page):
        wrong = _watched(page)
        page.goto(link)
        _settled(page)
        _fits(page)
        touches += _start_filming(page)
        page.get_by_role("button", name="Stop", exact=True).click()
        touches += 1
        expect(page.get_by_role("button", name="Send the clip")).to_be_enabled()
        _hold(page)
        with _a_piece_is_sent(page):
            page.get_by_role("button", name="Send the clip").click()
        assert touches + 1 <= MOST_TOUCHES
        assert wrong == []
        process.kill()

    with _phone(browser, profile, camera) as (process, page):
        _hold(page)
        with _a_piece_is_sent(page):
            page.goto(link)
        assert _sent_files(served.data) == []
        process.kill()

    with _phone(browser, profile, camera) as (_, page):
        wrong = _watched(page)
        page.goto(link)
        page.get_by_role("link", name="Open the result").click()
        page.wait_for_url("**/results?set=*")
        expect(page.get_by_role("heading", name="Leg extension").first).to_be_visible()
        assert wrong == []
    (kept,) = _sent_files(served.data)
    assert hashlib.sha256(kept.read_bytes()).hexdigest() == kept.name
    assert next(iter(open_clip(kept).frames())).image.size


@pytest.mark.browser
def test_what_was_filmed_until_the_browser_died_is_offered_and_sent(
    served: Served, browser: sync_api.Browser, tmp_path: Path, camera: Path
) -> None:
    trainer = _window(browser, served, LAPTOP)
    _become_trainer(trainer, served)
    link = _add_member(trainer, "Ilse")
    profile = tmp_path / "phone"

    with _phone(browser, profile, camera) as (process, page):
        page.goto(link)
        _start_filming(page)
        expect(page.get_by_text(re.compile(r"^([3-9]|\d\d+) s filmed and safe"))).to_be_visible()
        other = page.context.new_page()
        other.goto(served.address)
        assert other.evaluate(IN_HAND) == [1, False], (
            "what is still filmed here is offered in no other window"
        )
        process.kill()

    with _phone(browser, profile, camera) as (_, page):
        wrong = _watched(page)
        page.goto(link)
        expect(page.get_by_text(re.compile(r"a set from \d\d:\d\d was not sent"))).to_be_visible()
        page.get_by_role("button", name="Send", exact=True).click()
        expect(page.get_by_role("link", name="Open the result")).to_be_visible()
        assert page.get_by_text("was not sent").count() == 0
        assert wrong == []
    (kept,) = _sent_files(served.data)
    assert hashlib.sha256(kept.read_bytes()).hexdigest() == kept.name
    assert open_clip(kept).clip.duration_s > 1.0
    assert next(iter(open_clip(kept).frames())).image.size
