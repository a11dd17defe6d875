"""A member's screens on a phone of 390x844 in Chromium: how long they are, and that a check tells its end."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from app.page.studio import COOKIE
from app.store.models import Job, Report, TrainingSet, now
from app.store.rules import Actor
from app.store.signin import session_for
from shared.exercise import exercise_names, find_exercise
from tests.page.desk_studio import CHROMIUM, TWO, DeskStudio, desk_studio
from tests.page.test_browser import PHONE, SOON, _settled, free_port, sync_api
from tests.store.made import DAY

expect = sync_api.expect
SCREENS = 2
#: What the page would show while it is out of sight: kept in ``window.shown``.
OUT_OF_SIGHT = """
window.shown = [];
Object.defineProperty(document, "hidden", { get: () => true });
ServiceWorkerRegistration.prototype.showNotification = (title, more) => { window.shown.push(more.body); };
"""
#: Begin to film as one person, two pieces of four bytes; nothing says that the film has ended.
FILMING = """async ([who, told]) => {
  const { outbox } = await import("/ours/posting.js");
  await outbox.open("/kept/sending", who);
  const clip = outbox.begin("set.webm", "video/webm", { told, title: "Leg extension" });
  for (const piece of ["four", "more"]) await outbox.grow(clip, new Blob([piece]));
}"""
#: What a window offers to one person: of each clip what lies there.
OFFERED = """async (who) => {
  const { outbox } = await import("/ours/posting.js");
  await outbox.open("/kept/sending", who);
  return Promise.all(outbox.unsent().map((clip) => clip.blob.text()));
}"""


@pytest.fixture
def phone(tmp_path: Path) -> Iterator[tuple[DeskStudio, Actor, Any]]:
    """A studio without workers, a member who is new to it, and their phone; its errors in ``page.wrong``."""
    if CHROMIUM is None and os.environ.get("PLUMBSET_NEEDS_BROWSER"):
        pytest.fail("no browser here, and its tests may not be skipped: apt-get install chromium")
    if CHROMIUM is None:
        pytest.skip("no browser here: apt-get install chromium")
    with ExitStack() as stack:
        studio = desk_studio(tmp_path, [])
        stack.callback(studio.database.close)
        member = Actor(studio.trainer.save_member(None, "Ilse"), "Ilse", "member")
        address = stack.enter_context(studio.served(free_port()))
        playwright = stack.enter_context(sync_api.sync_playwright())
        flags = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=flags)
        stack.callback(browser.close)
        context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, base_url=address)
        context.add_cookies([{"name": COOKIE, "value": session_for(studio.database, member), "url": address}])
        page = context.new_page()
        page.set_default_timeout(SOON)
        page.wrong = []
        page.on("console", lambda m: page.wrong.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: page.wrong.append(str(error)))
        yield studio, member, page


def _checking(studio: DeskStudio, member: Actor) -> int:
    """A set of theirs that is being checked, by nobody in truth."""
    with studio.database.write() as session:
        row = TrainingSet(person_id=member.id, exercise="leg-extension", done_on=DAY, status="checking")
        session.add(row)
        session.flush()
        session.add(Job(set_id=row.id, state="running", step="Looking at the clip", progress=0.4))
        return int(row.id)


def _check_ends(studio: DeskStudio, set_id: int) -> None:
    with studio.database.write() as session:
        session.add(Report(set_id=set_id, body=TWO.to_json()))
        session.get_one(TrainingSet, set_id).status = "checked"
        session.query(Job).filter_by(set_id=set_id).one().state = "done"


@pytest.mark.browser
def test_the_film_page_fits_two_screens_on_every_machine(phone: tuple[DeskStudio, Actor, Any]) -> None:
    _, _, page = phone
    page.goto("/film")
    page.get_by_role("radio", name="No", exact=True).click()
    long = {}
    for name in exercise_names():
        page.get_by_role("button", name=find_exercise(name).title, exact=True).click()
        expect(page.get_by_role("button", name="Film here")).to_be_visible()
        _settled(page)
        long[name] = page.get_by_test_id("stMain").evaluate("e => e.scrollHeight")
        page.get_by_role("button", name="Another machine").click()
        expect(page.get_by_text("Which machine")).to_be_visible()
        _settled(page)
    long["tiles"] = page.get_by_test_id("stMain").evaluate("e => e.scrollHeight")
    assert max(long.values()) <= SCREENS * PHONE["height"], long
    assert page.wrong == []


@pytest.mark.browser
def test_a_finished_check_tells_itself_by_title_and_notification(
    phone: tuple[DeskStudio, Actor, Any],
) -> None:
    studio, member, page = phone
    page.context.grant_permissions(["notifications"])
    page.add_init_script(OUT_OF_SIGHT)
    set_id = _checking(studio, member)
    page.goto(f"/results?set={set_id}")
    expect(page).to_have_title("Being checked · Plumbset")
    _check_ends(studio, set_id)
    page.wait_for_function("() => window.shown.length === 1")
    (words,) = page.evaluate("() => window.shown")
    assert words.endswith("· Plumbset")
    expect(page).to_have_title(words)
    assert page.wrong == []


@pytest.mark.browser
def test_a_first_visit_leads_to_a_sample_that_enters_nobodys_history(
    phone: tuple[DeskStudio, Actor, Any],
) -> None:
    studio, member, page = phone
    page.goto("/results")
    page.get_by_role("link", name="Try it with a sample set").click()
    expect(page.get_by_role("heading", name="Sample: leg extension").first).to_be_visible()
    expect(page.get_by_text("nobody's set")).to_be_visible()
    page.get_by_role("link", name="Film your first set").click()
    expect(page.get_by_text("Sharp or joint pain today?")).to_be_visible()
    assert studio.trainer.sets(member.id) == []
    assert page.wrong == []


@pytest.mark.browser
def test_what_is_filmed_lies_there_piece_by_piece_for_its_owner_alone(
    phone: tuple[DeskStudio, Actor, Any],
) -> None:
    _, member, page = phone
    filming, other = page, page.context.new_page()
    for window in (filming, other):
        window.goto("/ours/plumbset.webmanifest")  # the scripts alone, without a page's own outbox
    filming.evaluate(FILMING, [member.id, {"person": member.id, "exercise": "leg-extension"}])
    assert other.evaluate(OFFERED, member.id) == [], "it is still filmed in the other window"
    filming.close()
    other.reload()
    assert other.evaluate(OFFERED, member.id + 1) == [], "it is another person's"
    other.reload()
    assert other.evaluate(OFFERED, member.id) == ["fourmore"]


@pytest.mark.browser
def test_what_is_certain_before_the_end_stands_beside_the_clip_that_may_be_thrown_away(
    phone: tuple[DeskStudio, Actor, Any],
) -> None:
    _, member, page = phone
    page.goto("/ours/plumbset.webmanifest")
    told = {"person": member.id, "exercise": "leg-extension", "done_on": str(now().date()), "agreed": True}
    page.evaluate(FILMING, [member.id, told])
    said = quote(json.dumps(["The picture is too dark.", "From the side: stand the phone at hip height."]))
    offsets = iter(["2"])

    def half_arrived(route: Any) -> None:
        if route.request.method != "PATCH":
            route.continue_()
        elif offset := next(offsets, ""):  # the rest is on its way for ever
            headers = {"Tus-Resumable": "1.0.0", "Upload-Offset": offset, "Plumbset-So-Far": said}
            route.fulfill(status=204, headers=headers)

    page.route("**/kept/sending/**", half_arrived)
    page.goto("/results")
    page.get_by_role("button", name="Send", exact=True).click()
    expect(page.get_by_text("This clip cannot be judged")).to_be_visible()
    expect(page.get_by_text("The picture is too dark.")).to_be_visible()
    expect(page.get_by_text("From the side: stand the phone at hip height.")).to_be_visible()
    expect(page.get_by_text("25 % sent")).to_be_visible()
    page.get_by_role("button", name="Throw this clip away").click()
    expect(page.get_by_text("This clip cannot be judged")).to_have_count(0)
    assert page.wrong == []
