"""The review in a real browser: by keys alone, nothing handed over by accident, whatever was filmed."""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from app.page.studio import COOKIE
from app.rules import told
from app.store.signin import session_for
from shared.report import SetReport
from tests.page.desk_studio import CHROMIUM, CLEAR, OTHER, TWO, UNFIT, DeskStudio, desk_studio
from tests.page.test_browser import LAPTOP, PHONE, free_port

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed: make setup")
expect = sync_api.expect
#: Only what hangs ends here.
SOON = 120_000
MOST_KEYS = 25
Opened = Callable[..., tuple[DeskStudio, Any]]


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    """Open a page of a studio with these sets; what the console complains of is in ``page.wrong``."""
    if CHROMIUM is None and os.environ.get("PLUMBSET_NEEDS_BROWSER"):
        pytest.fail("no browser here, and its tests may not be skipped: apt-get install chromium")
    if CHROMIUM is None:
        pytest.skip("no browser here: apt-get install chromium")
    with ExitStack() as stack:

        def opening(reports: Sequence[SetReport], where: str, size: dict[str, int] = LAPTOP) -> Any:
            studio = desk_studio(tmp_path, reports)
            stack.callback(studio.database.close)
            address = stack.enter_context(studio.served(free_port()))
            playwright = stack.enter_context(sync_api.sync_playwright())
            flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
            stack.callback(browser.close)
            context = browser.new_context(viewport=size)
            secret = session_for(studio.database, studio.trainer.actor)
            context.add_cookies([{"name": COOKIE, "value": secret, "url": address}])
            page = context.new_page()
            page.set_default_timeout(SOON)
            page.wrong = []
            page.on("console", lambda m: page.wrong.append(m.text) if m.type == "error" else None)
            page.on("pageerror", lambda error: page.wrong.append(str(error)))
            page.goto(f"{address}/{where}")
            return studio, page

        yield opening


def _settled(page: Any) -> None:
    state = "data-test-script-state"
    expect(page.get_by_test_id("stApp")).to_have_attribute(state, "notRunning", timeout=SOON)


def _at_desk(page: Any, member: str) -> None:
    """The desk of a member's set is there, and its clip."""
    expect(page.get_by_role("heading", name=member).first).to_be_visible(timeout=SOON)
    expect(page.locator('.talk > .bar button[title^="Hand over"]').first).to_be_enabled(timeout=SOON)
    _settled(page)
    expect(page.locator(".desk")).to_have_count(1, timeout=SOON)  # that of the set before is gone
    video = page.locator(".look video")
    video.evaluate("v => v.readyState > 0 || new Promise(r => v.addEventListener('loadedmetadata', r))")
    _settled(page)


def _waits(studio: DeskStudio, set_id: int = 1) -> bool:
    return studio.trainer.set(set_id).reviewed_at is None


def _said_soon(page: Any, studio: DeskStudio, key: str) -> Any:
    """What was said of a finding, once the page has kept it."""
    for _ in range(200):
        _settled(page)
        if key in (said := studio.trainer.said(1)):
            return said[key]
        page.evaluate("() => new Promise(requestAnimationFrame)")
    pytest.fail(f"nothing was kept of {key}")


@pytest.mark.browser
def test_typing_hands_nothing_over(opened: Opened) -> None:
    studio, page = opened([TWO], "review?set=1")
    _at_desk(page, "Ilse")
    box, question = page.locator(".box textarea"), page.get_by_role("alertdialog")
    page.keyboard.type("mBoth hands, yes exactly here")
    expect(box).to_be_focused()
    expect(box).to_be_in_viewport()
    expect(box).to_have_value("Both hands, yes exactly here")
    stage = page.locator(".stage").first.bounding_box()
    page.mouse.click(stage["x"] + stage["width"] / 4, stage["y"] + stage["height"] / 2)
    expect(page.locator(".ring")).to_be_visible()
    page.locator(".box button").first.focus()
    page.keyboard.type("hxa")  # beside the words: the box is open, so keys rest all the same
    expect(question).to_be_hidden()
    page.get_by_label("Which check should have seen it?").select_option("hips-off-pad")
    box.press("Control+Enter")
    added = _said_soon(page, studio, "added:1")
    assert (added.words, added.check) == ("Both hands, yes exactly here", "hips-off-pad")
    assert added.place == (pytest.approx(0.25, abs=0.02), pytest.approx(0.5, abs=0.02))
    page.keyboard.press("e")
    page.keyboard.type(" hxyh")
    expect(box).to_have_value(re.compile("hxyh$"))
    box.press("Escape")
    expect(question).to_be_hidden()
    page.keyboard.type("hands behind you, y")
    expect(question).to_contain_text("2 prompts not decided: Ilse may read them as they stand")
    assert _waits(studio) and set(studio.trainer.said(1)) == {"added:1"}
    page.keyboard.press("Escape")
    expect(question).to_be_hidden()
    page.keyboard.type("xh")
    expect(question).to_contain_text("1 prompt not decided: Ilse may read it as it stands")
    expect(page.locator(".rep.flag")).to_have_count(1, timeout=SOON)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Nothing to review").first).to_be_visible(timeout=SOON)
    assert not _waits(studio)
    page.get_by_role("button", name="Take it back").click()
    _at_desk(page, "Ilse")
    assert _waits(studio) and page.wrong == []


@pytest.mark.browser
def test_words_are_of_the_prompt_that_they_were_begun_for(opened: Opened) -> None:
    """The chip of another one is touched before they are saved, to look at it."""
    studio, page = opened([TWO], "review?set=1")
    _at_desk(page, "Ilse")
    page.locator(".chips button", has_text="Chest dropping").click()
    page.keyboard.press("e")
    words = page.get_by_label("The prompt in your words: Chest dropping")
    words.fill("Grow tall.")
    page.locator(".chips button", has_text="Knees locked out").click()
    page.get_by_role("button", name="Save these words").click()
    said = _said_soon(page, studio, "chest-drop:11")
    assert (said.kind, said.words) == ("reword", "Grow tall.")
    assert set(studio.trainer.said(1)) == {"chest-drop:11"} and page.wrong == []


@pytest.mark.browser
def test_two_taps_on_no_fault_decide_one_card(opened: Opened) -> None:
    studio, page = opened([TWO], "review?set=1")
    _at_desk(page, "Ilse")
    page.locator('.talk > .bar button[title^="No fault"]').dblclick()
    _said_soon(page, studio, "knee-lockout:9")
    page.keyboard.press("h")  # what a second tap decided would be kept by now, and nothing be asked
    expect(page.get_by_role("alertdialog")).to_contain_text("1 prompt")
    assert set(studio.trainer.said(1)) == {"knee-lockout:4", "knee-lockout:9"}


@pytest.mark.browser
def test_five_sets_are_cleared_by_keys_alone(opened: Opened) -> None:
    studio, page = opened([TWO] * 5, "")
    expect(page.get_by_role("heading", name="5 sets to review").first).to_be_visible(timeout=SOON)
    expect(page.get_by_role("button", name="Open the first")).to_be_enabled(timeout=SOON)
    expect(page.get_by_role("link", name="Look")).to_have_count(5, timeout=SOON)
    _settled(page)
    keys = 0
    for member, pressed in zip(
        ("Ilse", "Odo", "Bero", "Tamsin", "Wenke"), ("oyxh", *["yxh"] * 4), strict=True
    ):
        for key in pressed:
            page.keyboard.press(key)
            keys += 1
            if key == "o":
                _at_desk(page, member)
        if member != "Wenke":
            following = {"Ilse": "Odo", "Odo": "Bero", "Bero": "Tamsin", "Tamsin": "Wenke"}[member]
            _at_desk(page, following)
    expect(page.get_by_role("heading", name="Nothing to review").first).to_be_visible(timeout=SOON)
    assert keys <= MOST_KEYS
    kinds = {"knee-lockout:4": "agree", "knee-lockout:9": "agree", "chest-drop:11": "no-fault"}
    for set_id in range(1, 6):
        assert {key: one.kind for key, one in studio.trainer.said(set_id).items()} == kinds
        assert studio.members[set_id - 1].told(set_id).state == "released"


@pytest.mark.browser
def test_a_wrong_machine_is_asked_first_and_checked_again_as_that(opened: Opened) -> None:
    studio, page = opened([OTHER], "review?set=1")
    expect(page.get_by_role("alert").get_by_text("This looks like chest press")).to_be_in_viewport(
        timeout=SOON
    )
    expect(page.locator(".rep")).to_have_count(13)
    expect(page.locator(".rep.flag")).to_have_count(0)
    expect(page.locator(".talk .picture, .talk .cue:not(:text('another machine'))")).to_have_count(0)
    page.keyboard.type("yxh")
    assert _waits(studio) and studio.trainer.said(1) == {}
    assert "chest press" in studio.members[0].told(1).notice
    page.get_by_role("button", name="Check again as chest press").click()
    expect(page.get_by_text("still being checked")).to_be_visible(timeout=SOON)
    row = studio.trainer.set(1)
    assert (row.exercise, row.status) == ("chest-press", "checking")


@pytest.mark.browser
def test_a_clip_that_is_not_fit_plays_for_the_trainer(opened: Opened) -> None:
    studio, page = opened([UNFIT], "review?set=1")
    _at_desk(page, "Ilse")
    expect(page.get_by_text("too dark to see the limbs").first).to_be_visible()
    page.keyboard.press("k")
    page.locator(".look video").evaluate(
        "v => new Promise(r => v.addEventListener('timeupdate', () => v.currentTime > 3.2 && r()))"
    )
    assert page.wrong == []
    assert studio.members[0].told(1).state == "unfit"


@pytest.mark.browser
def test_everything_to_decide_is_in_sight_on_a_laptop_and_on_a_phone(opened: Opened) -> None:
    _, page = opened([TWO], "review?set=1")
    for size in (LAPTOP, PHONE):
        page.set_viewport_size(size)
        _at_desk(page, "Ilse")
        for name in ("Agree", "Say it in your words", "No fault", "Hand over"):
            expect(page.locator(f'.talk > .bar button[title^="{name}"]')).to_be_in_viewport(ratio=1)
        film, strip = page.locator(".stage").first.bounding_box(), page.locator(".strip").bounding_box()
        assert strip["x"] >= film["x"] + film["width"], "a portrait clip stands beside its strip"
        lefts = page.locator(".rep").evaluate_all(
            "all => [...new Set(all.map(e => e.getBoundingClientRect().left))]"
        )
        assert len(lefts) == 1 and page.locator(".rep").count() == 13
        shape = page.locator(".look video").evaluate(
            "v => v.clientWidth / v.clientHeight - v.videoWidth / v.videoHeight"
        )
        assert abs(shape) < 0.02, "nothing black beside the clip"
        main = page.get_by_test_id("stMain")
        assert main.evaluate("e => e.scrollWidth - e.clientWidth") == 0


@pytest.mark.browser
@pytest.mark.parametrize("width", [1000, 1280])
def test_in_a_tall_window_the_strip_lies_over_no_words(opened: Opened, width: int) -> None:
    _, page = opened([TWO], "review?set=1", {"width": width, "height": 1600})
    _at_desk(page, "Ilse")
    boxes = [page.locator(what).first.bounding_box() for what in (".stage", ".strip", ".talk")]
    for left, right in pairwise(boxes):
        assert left["x"] + left["width"] <= right["x"]


@pytest.mark.browser
def test_the_clip_zooms_slows_and_opens_at_the_first_flag(opened: Opened) -> None:
    _, page = opened([TWO], "review?set=1")
    _at_desk(page, "Ilse")
    video, film = page.locator(".look video"), page.locator(".look .film")
    expect(page.locator(".clock")).to_have_text(re.compile(r"^17\.[34] s"))
    for words in ("½×", "¼×", "1×"):
        page.keyboard.press("s")
        expect(page.get_by_role("button", name="Speed")).to_have_text(words)
    before = video.evaluate("v => v.currentTime")
    page.keyboard.press("Shift+ArrowRight")
    assert video.evaluate("v => v.currentTime") - before == pytest.approx(1 / 30, abs=0.005)
    page.locator(".stage").first.hover()
    page.mouse.wheel(0, -300)
    expect(film).to_have_attribute("style", re.compile(r"scale\(2\.7"))
    page.get_by_role("button", name=re.compile("^Repetition 9")).click()
    expect(page.locator(".rep.now .jump b")).to_have_text("9")
    page.get_by_role("checkbox", name="Decide repetition 4 too").click()
    expect(page.locator(".picked")).to_have_text("You decide repetition 9 now.")


@pytest.mark.browser
def test_the_list_opens_by_its_rows_is_searched_and_clears_what_is_clear(opened: Opened) -> None:
    studio, page = opened([TWO, CLEAR, CLEAR], "")
    rows = page.locator("[class*=st-key-wait-]")
    expect(rows).to_have_count(3, timeout=SOON)
    _settled(page)
    page.get_by_label("Member or machine").fill("bero")
    page.get_by_label("Member or machine").press("Enter")
    expect(rows).to_have_count(1, timeout=SOON)
    page.get_by_label("Member or machine").fill("")
    page.get_by_label("Member or machine").press("Enter")
    expect(rows).to_have_count(3, timeout=SOON)
    _settled(page)
    page.get_by_role("button", name="Nothing flagged in 2").click()
    for member in ("Odo", "Bero"):
        expect(page.get_by_text(f"{member}, leg extension")).to_be_visible(timeout=SOON)
        _settled(page)
        page.get_by_role("button", name="Looks right").click()
    page.get_by_role("button", name="Hand over 2 sets").click()
    expect(page.get_by_role("heading", name="1 set to review").first).to_be_visible(timeout=SOON)
    assert [_waits(studio, n) for n in (1, 2, 3)] == [True, False, False]
    _settled(page)
    box = rows.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 3, box["y"] + box["height"] / 2)
    _at_desk(page, "Ilse")
    assert page.wrong == [] and told.NOTE not in studio.trainer.said(1)
