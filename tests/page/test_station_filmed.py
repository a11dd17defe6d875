"""A station in Chromium, end to end: its camera is a file, its count is the real one."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from app.store.access import Access
from app.store.arriving import at_stations
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Person, now
from app.store.rules import Actor
from tests.page.station_camera import chromium_with, write_camera
from tests.page.test_axe import ASK, AXE
from tests.page.test_browser import PHONE, SAMPLE, SOON, _serving, free_port, sync_api
from vision.seeing.clip import open_clip

pytestmark = pytest.mark.browser
expect = sync_api.expect
#: Of the sample, in s, and the full repetitions that lie in it.
FROM_TO, REPS = (25.0, 45.0), 4
#: The room is empty until the station stands; then a member comes.
EMPTY_S = 25.0


class Made:
    """A studio with a trainer and a member who has a card, before its page is started."""

    def __init__(self, data: Path):
        self.data = data
        data.mkdir()
        self.database: Database = open_database(f"sqlite:///{data / 'plumbset.db'}")
        migrate(self.database)
        with self.database.write() as session:
            runa, ilse = Person(name="Runa", role="trainer"), Person(name="Ilse Marten", role="member")
            ilse.consent_at = now()
            session.add_all([runa, ilse])
            session.flush()
            self.ilse = ilse.id
            actor = Actor(runa.id, "Runa", "trainer")
        self.files = Files(data / "files")
        self.trainer = Access(self.database, self.files, actor)
        (self.card,) = self.trainer.give_cards([self.ilse])
        self.secret = self.trainer.make_station("leg-extension")


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Made]:
    studio = Made(tmp_path / "data")
    yield studio
    studio.database.close()


@pytest.fixture(scope="module")
def camera(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the camera sees; the first card that a studio gives is number 1."""
    out = tmp_path_factory.mktemp("camera") / "camera.mjpeg"
    write_camera(out, SAMPLE, FROM_TO, card=1, before_s=EMPTY_S)
    return out


@pytest.fixture
def station(made: Made, camera: Path, tmp_path: Path) -> Iterator[Any]:
    """The page of a station as it is set up."""
    assert made.card == 1
    port = free_port()
    with _serving(tmp_path / "data", port) as served, sync_api.sync_playwright() as playwright:
        browser = chromium_with(playwright, camera)
        page = browser.new_page(viewport=PHONE)
        page.set_default_timeout(SOON)
        page.wrong, page.served, page.port = [], served, port
        page.on("console", lambda m: page.wrong.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda e: page.wrong.append(str(e)))
        page.goto(f"{served.address}/station/enter/{made.secret}")
        yield page
        browser.close()


def test_a_member_shows_a_card_trains_and_reads_the_count(made: Made, station: Any) -> None:
    light, big = station.locator(".light"), station.locator(".big")
    station.get_by_role("button", name="Start the station").click()
    expect(big).to_have_text("Ready")
    assert light.is_hidden(), "nothing is filmed while nobody is there"
    expect(big).to_have_text("Sharp or joint pain today?")
    expect(station.locator(".name")).to_have_text("Ilse")
    expect(light).to_be_visible()
    station.get_by_role("button", name="No", exact=True).click()
    expect(big).to_have_text("Recording")
    expect(big).to_have_text("Checking")
    expect(light).to_be_hidden()
    expect(big).to_have_text(f"{REPS} reps")
    expect(station.locator(".more")).to_have_text(re.compile("^about .* s up and .* s down$"))
    assert station.wrong == []
    (row,) = made.trainer.sets(made.ilse)
    assert row.exercise == "leg-extension" and row.clip is not None
    kept = open_clip(made.files.path(row.clip)).clip
    assert FROM_TO[1] - FROM_TO[0] <= kept.duration_s <= 45.0
    assert not list(at_stations(made.files.folder).folder.glob("*/clip"))
    assert made.trainer.only_counted(now().date()) == []


def test_a_page_that_is_killed_while_it_counts_shows_the_count_when_it_is_started_anew(
    made: Made, station: Any, tmp_path: Path
) -> None:
    station.get_by_role("button", name="Start the station").click()
    station.get_by_role("button", name="No", exact=True).click()
    with station.expect_response(lambda answer: "/station/set/" in answer.url, timeout=SOON):
        pass
    station.served.process.kill()
    station.served.process.wait()
    assert made.trainer.sets(made.ilse) == []
    assert list(at_stations(made.files.folder).folder.glob("*/clip"))
    with _serving(tmp_path / "data", station.port):
        expect(station.locator(".big")).to_have_text(f"{REPS} reps")
        expect(station.locator(".name")).to_have_text("Ilse")
        (row,) = made.trainer.sets(made.ilse)
        assert row.clip is not None
    assert not list(at_stations(made.files.folder).folder.glob("*/clip"))


def test_its_screens_keep_to_the_rules_of_access_and_an_ended_one_gives_its_camera_back(
    made: Made, station: Any
) -> None:
    _accessible(station)
    station.get_by_role("button", name="Start the station").click()
    expect(station.locator(".big")).to_have_text("Ready")
    _accessible(station)
    (one,) = made.trainer.stations()
    made.trainer.end_station(one.key)
    expect(station.locator(".said")).to_contain_text("no station any more")
    live = "() => document.querySelector('video').srcObject.getTracks().some((t) => t.readyState === 'live')"
    assert station.evaluate(live) is False and station.locator(".light").is_hidden()


def _accessible(page: Any) -> None:
    """By axe-core's rules; its script is put in from outside, past the page's own policy."""
    page.evaluate(AXE)
    assert page.evaluate(ASK) == []
