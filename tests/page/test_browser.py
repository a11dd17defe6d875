"""The whole way in a real browser, on the real pipeline: send, review, hand over, read, pain."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import timedelta
from io import BytesIO
from pathlib import Path

import av
import pytest

from app.jobs.contained import LIMITS
from app.page.oidc import VOUCHED
from app.page.studio import COOKIE
from app.rules.room import usual_machines
from app.store import queries
from app.store.access import Access, NewSet
from app.store.database import open_database
from app.store.files import Files
from app.store.models import Report, TrainingSet, now
from app.store.rules import Actor
from tests.page.provider import Provider
from tests.store.made import DAY, report

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: make setup")
expect = sync_api.expect
#: Only what hangs ends here: nothing in these tests measures time, and a busy machine may be slow.
expect.set_options(timeout=120_000)
ROOT = Path(__file__).parents[2]
SAMPLE = ROOT / "sample_clips" / "leg-extension-faulty.mp4"
#: From here on, in s, six of its twelve repetitions: a lockout in the third, a dropped chest in the fifth.
FROM_S = 25.0
PHONE, LAPTOP = {"width": 390, "height": 844}, {"width": 1280, "height": 800}
#: A check may take as long as it may in the product.
SOON, OPENED, CHECKED = 120_000, 10_000, 1000 * LIMITS.wall_s
OWN_WORDS = "Stop a hand's width before straight."
ADDED = "Left foot slid off the plate."


@dataclass(frozen=True)
class Served:
    """A running page. code: on the first start; link: of any other."""

    address: str
    code: str
    data: Path
    link: str
    process: subprocess.Popen[str]


@contextmanager
def _serving(data: Path, port: int) -> Iterator[Served]:
    env = {**os.environ, "PLUMBSET_DATA": str(data), "PYTHONUNBUFFERED": "1"}
    env.pop("PLUMBSET_DATABASE_URL", None)
    command = [sys.executable, "-m", "app.cli", "app", "--port", str(port)]
    process = subprocess.Popen(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        said = ""
        while "URL:" not in said:
            line = process.stdout.readline()
            assert line, f"the page did not start: {said}"
            said += line
        code = re.search(r"trainer: ([A-Z0-9-]{14})", said)
        link = re.search(r"http://\S+(/enter/\S{43})", said)
        assert code or link, said
        address = f"http://127.0.0.1:{port}"
        yield Served(address, code[1] if code else "", data, address + link[1] if link else "", process)
    finally:
        process.terminate()
        process.wait()
        if process.stdout:
            process.stdout.close()


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with _serving(tmp_path / "data", free_port()) as running:
        yield running


def _window(browser: sync_api.Browser, served: Served, size: dict[str, int]) -> sync_api.Page:
    """A window of its own that fetches nothing from anywhere else."""
    page = browser.new_context(viewport=size).new_page()
    page.set_default_timeout(SOON)
    elsewhere: list[str] = []
    page.on("request", lambda r: elsewhere.append(r.url) if not _ours(r.url, served) else None)
    page.elsewhere = elsewhere
    return page


def _ours(url: str, served: Served) -> bool:
    host = served.address.removeprefix("http://")
    return url.startswith((f"http://{host}", f"ws://{host}", "data:", "blob:"))


def _settled(page: sync_api.Page) -> None:
    """Wait until the page has taken in what was done: while it runs, a part may still be the old one."""
    expect(page.get_by_test_id("stApp")).to_have_attribute("data-test-script-state", "notRunning")


def _become_trainer(page: sync_api.Page, served: Served) -> None:
    page.goto(served.address)
    page.get_by_label("One-time code").fill(served.code)
    page.get_by_label("Your name").fill("Runa")
    page.get_by_role("button", name="Start").click()
    expect(page.get_by_role("heading", name="Nothing to review").first).to_be_visible()


def _add_member(page: sync_api.Page, name: str) -> str:
    """Add a member and give back the personal link."""
    page.get_by_role("link", name="Members", exact=True).click()
    expect(page.get_by_role("heading", name="Members").first).to_be_visible()
    _settled(page)
    page.get_by_role("textbox", name="Name").fill(name)
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.get_by_role("heading", name=name).first).to_be_visible()
    _settled(page)
    page.get_by_role("tab", name="Person and link").click()
    page.get_by_role("button", name="Make a link").click()
    return page.locator("code", has_text="/enter/").first.inner_text()


def _clear_set_of_another(served: Served) -> None:
    """A set with nothing flagged that has waited longer; without a job, which a worker could take first."""
    database = open_database(f"sqlite:///{served.data / 'plumbset.db'}")
    trainer = Access(database, Files(served.data / "files"), Actor(1, "Runa", "trainer"))
    odo = trainer.save_member(None, "Odo")
    clear = report().model_copy(update={"findings": []})
    with database.write() as session:
        row = TrainingSet(
            person_id=odo, exercise="leg-extension", done_on=DAY, status="checked", count=clear.count,
            uploaded_at=now() - timedelta(hours=1),
        )  # fmt: skip
        session.add(row)
        session.flush()
        session.add(Report(set_id=row.id, body=clear.to_json()))
        session.flush()
        queries.rate(session, row)
    database.close()


def _second_half(folder: Path) -> Path:
    """The sample from ``FROM_S`` on, its packets as they are: a check takes half as long."""
    out = folder / "tuesday.mp4"
    with av.open(str(SAMPLE)) as source, av.open(str(out), "w") as cut:
        stream = source.streams.video[0]
        copied = cut.add_stream_from_template(stream)
        source.seek(round(FROM_S / stream.time_base), stream=stream)
        packets = [p for p in source.demux(stream) if p.dts is not None]
        first = packets[0].dts
        for packet in packets:
            packet.pts, packet.dts, packet.stream = packet.pts - first, packet.dts - first, copied
            cut.mux(packet)
    return out


def _earlier_sets(served: Served, person: int) -> None:
    """Three judged sets of the weeks before, looked at long ago; their reports are made by hand."""
    database = open_database(f"sqlite:///{served.data / 'plumbset.db'}")
    made = report()
    with database.write() as session:
        for weeks in (1, 2, 3):
            row = TrainingSet(
                person_id=person, exercise="leg-extension", done_on=now().date() - timedelta(weeks=weeks),
                load=30.0 - 2.5 * weeks, status="checked", count=made.count, reviewed_at=now(),
            )  # fmt: skip
            session.add(row)
            session.flush()
            session.add(Report(set_id=row.id, body=made.to_json()))
    database.close()


def _fits(page: sync_api.Page) -> None:
    """Nothing is wider than the window: nobody has to scroll sideways."""
    main = page.get_by_test_id("stMain")
    assert main.evaluate("e => [e.scrollWidth, e.clientWidth]") == [page.viewport_size["width"]] * 2


def _send(page: sync_api.Page, link: str, clip: Path) -> None:
    page.goto(link)
    expect(page.get_by_text("0 of 6 machines done today")).to_be_visible()
    _settled(page)
    _fits(page)
    page.locator("[class*=st-key-circ-leg-extension]").get_by_role("link", name="Film").click()
    page.get_by_role("radio", name="No", exact=True).click()
    expect(page.get_by_role("heading", name="Leg extension").first).to_be_visible()
    _try_framing(page)
    page.get_by_text("How to film it").click()
    expect(page.get_by_alt_text("straight to the side").first).to_be_visible()
    page.locator("input.choose").set_input_files(clip)
    expect(page.get_by_text(clip.name)).to_be_visible()
    _settled(page)
    _fits(page)
    page.get_by_text("I agree that my clip is checked").click()
    expect(page.get_by_role("button", name="Send the clip")).to_be_enabled()
    _settled(page)
    page.get_by_role("button", name="Send the clip").click()
    page.wait_for_url("**/results?set=*")
    page.reload()
    expect(page.get_by_role("progressbar").first).to_be_visible()


def _try_framing(page: sync_api.Page) -> None:
    """A picture cut off at the knees is told before anything is filmed."""
    _settled(page)
    page.get_by_text("Try the picture first").click()
    page.get_by_test_id("stFileUploaderDropzoneInput").set_input_files(
        {"name": "photo.png", "mimeType": "image/png", "buffer": _cut_off()}
    )
    expect(page.get_by_text("out of the picture, or too near its edge").first).to_be_visible()
    _settled(page)


def _cut_off() -> bytes:
    from PIL import Image

    from vision.seeing.clip import open_clip

    image = next(iter(open_clip(SAMPLE).frames(5.0))).image
    out = BytesIO()
    Image.fromarray(image[: int(0.6 * len(image))]).save(out, "PNG")
    return out.getvalue()


def _review(page: sync_api.Page, served: Served) -> None:
    page.goto(served.address)
    rows = page.locator("[class*=st-key-wait-]")
    expect(rows.nth(0)).to_contain_text("Ilse")
    expect(rows.nth(0)).to_contain_text("Knees locked out")
    expect(rows.nth(1)).to_contain_text("Nothing flagged")
    rows.nth(0).get_by_role("link", name="Look").click()
    _jump(page)
    _keep_files(page)
    page.keyboard.press("y")  # the first open card
    page.get_by_role("button", name="Knees locked out, agreed").click()
    page.keyboard.press("e")
    page.get_by_label("The prompt in your words").fill(OWN_WORDS)
    page.get_by_role("button", name="Save these words").click()
    expect(page.get_by_role("button", name="Chest dropping", exact=True)).to_have_attribute(
        "aria-current", ""
    )
    page.keyboard.press("x")
    page.get_by_role("button", name="Add here").click()
    page.get_by_label("What Ilse should read").fill(ADDED)
    page.get_by_role("button", name="Save these words").click()
    expect(page.locator(".card .say")).to_have_count(2)
    _settled(page)
    page.locator(".bar").get_by_role("button", name="Hand over").click()
    expect(page.get_by_role("heading", name="Odo").first).to_be_visible()  # the next one opens


def _keep_files(page: sync_api.Page) -> None:
    """Hand-out and report are kept one right after the other."""
    page.get_by_text("Keyboard, hand-out, and the whole report").click()
    for name, begins in (
        ("Hand-out as a picture", b"\x89PNG"),
        ("Whole report as one page", b"<!doctype html"),
    ):
        with page.expect_download() as kept:
            page.get_by_role("button", name=name).click()
        assert Path(kept.value.path()).read_bytes()[: len(begins)].lower() == begins.lower()
    page.get_by_text("Keyboard, hand-out, and the whole report").click()


def _jump(page: sync_api.Page) -> None:
    """The clip opens at the first flag, drawn over; a touch on a repetition brings it there."""
    video = page.locator("video").first
    expect(video).to_be_visible()
    video.evaluate("v => v.readyState > 0 || new Promise(r => v.addEventListener('loadedmetadata', r))")
    _settled(page)
    sync_api.expect(page.locator(".clock").first).to_have_text(re.compile(r"^1(1\.[7-9]|2\.[01]) s"))
    expect(page.get_by_role("button", name="Drawing")).to_have_attribute("aria-pressed", "true")
    drawn = "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some((v) => v)"
    canvas = page.locator(".look canvas")
    canvas.evaluate(f"async c => {{ while (!({drawn})(c)) await new Promise(requestAnimationFrame); }}")
    page.keyboard.press("o")
    assert canvas.evaluate(drawn) is False
    page.keyboard.press("o")
    page.get_by_role("button", name=re.compile("^Repetition 2")).click()
    sync_api.expect(page.locator(".rep.now .jump b")).to_have_text("2")


def _choose(page: sync_api.Page, label: str, nth: int) -> None:
    """Choose from a list; one that a late change of the page has closed again is opened anew."""
    _settled(page)
    options = page.get_by_role("option")
    for _ in range(10):
        page.get_by_role("combobox", name=label).click()
        with suppress(sync_api.TimeoutError):
            options.nth(nth).click(timeout=OPENED)
            return
    pytest.fail(f"the list {label} does not stay open")


def _member_page(page: sync_api.Page, name: str = "Ilse") -> None:
    """From the list to a member's page, as a trainer goes."""
    page.get_by_role("link", name="Members", exact=True).click()
    expect(page.get_by_role("heading", name="Members").first).to_be_visible()
    row = page.locator("[class*=st-key-member-]").filter(has_text=name)
    row.get_by_role("link", name="Open").click()
    expect(page.get_by_role("heading", name=name).first).to_be_visible()
    _settled(page)


def _tempo(trainer: sync_api.Page, member: sync_api.Page, served: Served) -> None:
    """Four sets over the weeks, and one beside another; the member reads of no flags."""
    _member_page(trainer)
    trainer.get_by_role("link", name="Tempo over weeks").click()
    expect(trainer.get_by_role("img", name="Seconds each way, range and load in 4 sets")).to_be_visible()
    _settled(trainer)
    expect(trainer.get_by_text("something was flagged")).to_be_visible()
    _choose(trainer, "Beside it", 1)
    expect(trainer.get_by_text("s a rep, ")).to_have_count(2)
    _settled(trainer)
    trainer.get_by_text("The same in numbers").click()
    expect(trainer.locator(".scroll").filter(has_text="Spread").locator("tr")).to_have_count(5)
    expect(trainer.get_by_text("A usual rep", exact=True)).to_be_visible()
    member.goto(f"{served.address}/tempo")
    expect(member.get_by_role("img", name="Seconds each way, range and load in 4 sets")).to_be_visible()
    _settled(member)
    expect(member.get_by_text("flagged")).to_have_count(0)
    _fits(member)


def _pages(pdf: bytes) -> int:
    """How many pages a PDF says it has; what it is made of is deflated."""
    assert pdf.startswith(b"%PDF-")
    packed = re.findall(rb"/FlateDecode.*?stream\r?\n(.*?)endstream", pdf, re.DOTALL)
    inside = b"".join([pdf, *(zlib.decompressobj().decompress(part) for part in packed)])
    return len(re.findall(rb"/Type\s*/Page\b", inside))


def _card(trainer: sync_api.Page, member: sync_api.Page, served: Served) -> None:
    """What the trainer writes on the card is on the member's phone, and on the sheet of one page."""
    _member_page(trainer)
    trainer.get_by_role("tab", name="Settings card").click()
    expect(trainer.get_by_role("button", name="Sheet as PDF")).to_be_visible()
    _choose(trainer, "Machine", usual_machines().index("leg-extension"))
    expect(trainer.get_by_role("combobox", name="Machine")).to_have_value("Leg extension")
    expect(
        trainer.locator("[class*=card-2-leg-extension]").first
    ).to_be_visible()  # no longer the form before
    _settled(trainer)
    trainer.get_by_label("Back pad").fill("4, one up from the mark")
    trainer.get_by_role("button", name="Save the card").click()
    expect(trainer.get_by_text("Saved.").first).to_be_visible()
    _settled(trainer)
    with trainer.expect_download() as sheet:
        trainer.get_by_role("button", name="Sheet as PDF").click()
    pdf = Path(sheet.value.path()).read_bytes()
    assert _pages(pdf) == 1
    member.goto(f"{served.address}/film?machine=leg-extension")
    member.get_by_role("radio", name="No", exact=True).click()
    expect(member.get_by_text("4, one up from the mark")).to_be_visible()


@pytest.mark.browser
def test_a_set_goes_from_the_phone_to_the_trainer_and_back(
    served: Served, browser: sync_api.Browser, tmp_path: Path
) -> None:
    trainer, member = _window(browser, served, LAPTOP), _window(browser, served, PHONE)
    _become_trainer(trainer, served)
    link = _add_member(trainer, "Ilse")
    _clear_set_of_another(served)
    _send(member, link, _second_half(tmp_path))
    told = member.locator("[class*=st-key-told-]")
    held = member.get_by_text("Your trainer checks this first").first
    expect(held).to_be_visible(timeout=CHECKED)
    expect(member.get_by_text("6 reps").first).to_be_visible()
    expect(told).to_have_count(0)
    _fits(member)

    _review(trainer, served)
    member.reload()
    expect(told).to_have_count(2)
    expect(told.nth(0)).to_contain_text(OWN_WORDS)
    expect(told.nth(0)).to_contain_text("In Runa's words")
    expect(told.nth(1)).to_contain_text(ADDED)
    for one in (told.nth(0), told.nth(1)):
        expect(one.locator("img")).to_be_visible()
    expect(member.get_by_text("Keep your chest tall")).to_have_count(0)

    _earlier_sets(served, person=2)
    _tempo(trainer, member, served)
    _card(trainer, member, served)

    member.get_by_role("link", name="My sets").click()
    member.locator("[class*=st-key-mine-2]").get_by_role("link", name="Open").click()
    expect(told).to_have_count(2)
    _settled(member)
    member.get_by_role("radio", name="Hard").click()
    _settled(member)
    member.get_by_role("radio", name="Yes", exact=True).click()
    expect(member.get_by_role("alert").get_by_text("Your trainer may not have seen this yet")).to_be_visible()
    _settled(member)
    member.get_by_label("Where?").fill("left knee")
    member.get_by_label("Where?").press("Tab")
    _settled(member)
    member.get_by_role("button", name="Tell my trainer").click()
    expect(member.get_by_role("alert").get_by_text("Stop for today")).to_be_in_viewport()
    expect(told).to_have_count(0)
    trainer.goto(served.address)
    expect(trainer.locator("[class*=st-key-wait-]").nth(0)).to_contain_text("Pain reported: left knee")
    _stopped_and_cleared(trainer, member, served)
    member.goto(f"{served.address}/kept/clip/2")
    expect(member.get_by_text("There is nothing here for you")).to_be_visible()
    assert trainer.elsewhere == [] and member.elsewhere == []


def _stopped_and_cleared(trainer: sync_api.Page, member: sync_api.Page, served: Served) -> None:
    """Every screen of the member stops, and goes on when the trainer has cleared it."""
    for screen in ("", "film", "tempo", "results"):
        member.goto(f"{served.address}/{screen}")
        expect(member.get_by_role("alert").get_by_text("Stop for today")).to_be_visible()
        _settled(member)
        expect(member.get_by_text(" due")).to_have_count(0)
        expect(member.get_by_text("Sharp or joint pain today?")).to_have_count(0)
        _fits(member)
    trainer.get_by_role("link", name="Ask and clear").click()
    expect(trainer.get_by_text("Pain reported, not cleared")).to_be_visible()
    _settled(trainer)
    trainer.get_by_text("I have talked to Ilse").click()
    trainer.get_by_role("button", name="Clear it: Ilse may go on").click()
    expect(trainer.get_by_text("Pain reported, not cleared")).to_have_count(0)
    member.goto(served.address)
    expect(member.get_by_text("Runa cleared your pain today")).to_be_visible()
    expect(member.get_by_text("due").first).to_be_visible()


#: A file's name that would be a picture and a link from elsewhere if it were read as markup.
HOSTILE = "![x](http:&sol;&sol;evil.example&sol;p.png) [free](http:&sol;&sol;evil.example) <img src=x>.mp4"


def _failed_set(served: Served, name: str) -> int:
    """A set whose clip is no clip, sent under that name; the real check refuses it. Returns its number."""
    database = open_database(f"sqlite:///{served.data / 'plumbset.db'}")
    trainer = Access(database, Files(served.data / "files"), Actor(1, "Runa", "trainer"))
    bero = trainer.save_member(None, "Bero")
    trainer.consent(bero)
    told = NewSet(bero, "leg-extension", now().date())
    set_id, _ = trainer.add_set(told, BytesIO(b"no clip at all"), name)
    database.close()
    return set_id


@pytest.mark.browser
def test_a_failed_sets_hostile_file_name_fetches_nothing_and_links_nowhere(
    served: Served, browser: sync_api.Browser
) -> None:
    trainer = _window(browser, served, LAPTOP)
    _become_trainer(trainer, served)
    set_id = _failed_set(served, HOSTILE)
    trainer.goto(f"{served.address}/review?set={set_id}")
    expect(trainer.get_by_role("button", name="Have it checked again")).to_be_visible(timeout=CHECKED)
    _settled(trainer)
    expect(trainer.get_by_test_id("stAlert").first).to_be_visible()
    for path in (f"review?set={set_id}", "", "members?person=2"):
        trainer.goto(f"{served.address}/{path}")
        expect(trainer.get_by_text("Bero").first).to_be_visible()
        _settled(trainer)
        expect(trainer.locator("a[href*=evil], img[src*=evil], img[src=x]")).to_have_count(0)
    assert trainer.elsewhere == []


@pytest.mark.browser
def test_the_link_of_a_start_opens_the_page_and_signing_out_closes_it(
    tmp_path: Path, browser: sync_api.Browser
) -> None:
    data, port = tmp_path / "data", free_port()
    with _serving(data, port) as first:
        _become_trainer(_window(browser, first, LAPTOP), first)
    with _serving(data, port) as served:
        trainer = _window(browser, served, LAPTOP)
        trainer.goto(served.address)
        expect(trainer.get_by_text("Each start has a new one")).to_be_visible()
        trainer.goto(served.link)
        expect(trainer.get_by_role("heading", name="Nothing to review").first).to_be_visible()
        personal = _add_member(trainer, "Ilse")
        trainer.goto(personal)
        expect(trainer.get_by_role("heading", name="Open Ilse's page?")).to_be_visible()
        trainer.get_by_role("link", name="Stay Runa").click()
        expect(trainer.get_by_role("heading", name="Nothing to review").first).to_be_visible()
        trainer.goto(f"{served.address}/leave")
        trainer.get_by_role("button", name="Sign out").click()
        expect(trainer.get_by_role("heading", name="Sign in")).to_be_visible()
        trainer.goto(served.address)
        expect(trainer.get_by_role("heading", name="Sign in")).to_be_visible()


@pytest.mark.browser
def test_the_studios_own_account_opens_the_account_of_its_verified_email(
    tmp_path: Path, browser: sync_api.Browser
) -> None:
    with Provider() as provider:
        port, data = free_port(), tmp_path / "data"
        data.mkdir(mode=0o700)
        secrets = data / "secrets.toml"
        secrets.touch(0o600)
        secrets.write_text(provider.secrets(f"http://127.0.0.1:{port}"), encoding="utf-8")
        with _serving(data, port) as served:
            trainer, odo = _window(browser, served, LAPTOP), _window(browser, served, PHONE)
            _become_trainer(trainer, served)
            trainer.get_by_role("link", name="Members", exact=True).click()
            _settled(trainer)
            trainer.get_by_role("textbox", name="Name").fill("Odo")
            trainer.get_by_role("textbox", name="E-mail").fill("Odo@studio.example")
            trainer.get_by_role("button", name="Add", exact=True).click()
            expect(trainer.get_by_role("heading", name="Odo").first).to_be_visible()
            for email, verified, heading in (
                ("mallory@studio.example", True, "Not let in"),
                ("odo@studio.example", False, "Not let in"),
                ("odo@studio.example", True, "Hello Odo"),
            ):
                provider.vouches(email, verified)
                odo.context.clear_cookies()
                odo.goto(f"{served.address}/enter")
                odo.get_by_role("link", name="Sign in with your account of the studio").click()
                odo.get_by_role("button", name="Go to the studio's sign-in").click()
                expect(odo.get_by_role("heading", name=heading).first).to_be_visible()
            odo.goto(f"{served.address}/leave")
            odo.get_by_role("button", name="Sign out").click()
            expect(odo.get_by_role("heading", name="Signed out here")).to_have_count(0)
            odo.wait_for_load_state()
            left = {cookie["name"] for cookie in odo.context.cookies()}
            assert not left & {COOKIE, VOUCHED}
