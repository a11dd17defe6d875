"""Every screen by axe-core's rules, in both themes and at both sizes, and nothing wrong on the console.

The script comes out of a package that only tests use; the page itself knows nothing of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from app.page.studio import COOKIE
from app.store.access import Access
from app.store.signin import make_pass
from tests.page import walk
from tests.page.desk_studio import CLEAR, OTHER, TWO, UNFIT, DeskStudio, desk_studio
from tests.page.test_browser import LAPTOP, PHONE, SOON, free_port
from tests.tagged_reports import report as tagged

pytestmark = pytest.mark.browser

#: A set whose stack and lever carried tags.
TAGGED = CLEAR.model_copy(update={"machine": tagged().machine})
#: Rules of parts that are Streamlit's own and cannot be mended from here: rule, what its selector holds, why.
NOT_OURS: list[tuple[str, str, str]] = [
    ("presentation-role-conflict", "stFileUploaderDropzone", "the uploader gives its box no role and a name"),
    ("scrollable-region-focusable", 'role="tablist"', "the bar of tabs scrolls with the tab that has keys"),
]
AXE = (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")
#: What is broken, with where: rule, selector and words of each.
ASK = """async () => (await axe.run(document, {resultTypes: ["violations"]})).violations.flatMap(
  v => v.nodes.map(n => [v.id, n.target.flat().join(" "), n.html.slice(0, 160)]))"""


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory) -> Iterator[DeskStudio]:
    made = desk_studio(tmp_path_factory.mktemp("axe"), [TWO, OTHER, UNFIT, TAGGED])
    made.trainer.decide(1, ["knee-lockout:4"], "agree")
    made.trainer.add_moment(1, 12.5, "Left foot slid off.")
    made.trainer.release(1)
    yield made
    made.database.close()


@pytest.fixture(scope="module")
def address(studio: DeskStudio) -> Iterator[str]:
    with studio.served(free_port()) as served:
        yield served


def _secret(studio: DeskStudio, access: Access) -> str:
    with studio.database.write() as session:
        return make_pass(session, "session", access.actor.id, 1)


def _faults(page: Any, where: str) -> list[str]:
    """What axe-core says of the screen, one line each, but for what is not ours."""
    page.evaluate(AXE)
    found = page.evaluate(ASK)
    ours = [one for one in found if not any(one[0] == r and at in one[1] + one[2] for r, at, _ in NOT_OURS)]
    return [f"{where}: {rule} at {target}: {markup}" for rule, target, markup in ours]


@pytest.mark.parametrize("size", [LAPTOP, PHONE], ids=["laptop", "phone"])
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_no_screen_breaks_a_rule_and_the_console_stays_silent(
    studio: DeskStudio, address: str, browser: Any, theme: str, size: dict[str, int], tmp_path: Path
) -> None:
    wrong: list[str] = []
    found: list[str] = []
    walks = (
        (None, walk.DOORS),
        (studio.trainer, walk.trainers((1, 2, 3))),
        (studio.members[0], walk.members((1,))),
    )
    for access, screens in walks:
        context = browser.new_context(viewport=size, color_scheme=theme)
        if access is not None:
            context.add_cookies([{"name": COOKIE, "value": _secret(studio, access), "url": address}])
        page = context.new_page()
        page.set_default_timeout(SOON)
        page.on("console", lambda m: wrong.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        if access is None:
            for door in screens:
                page.goto(f"{address}/{door}")
                found += _faults(page, door)
        else:
            for screen in walk.walk(page, address, screens):
                found += _faults(page, screen)
        context.close()
    assert not found and not wrong, "\n".join([*found, *wrong])


def test_the_rules_are_asked_at_all(browser: Any) -> None:
    page = browser.new_page()
    page.set_content(
        "<html><body><img src='data:,'><p style='color:#eee;background:#fff'>pale</p></body></html>"
    )
    assert {line.split()[1] for line in _faults(page, "made")} >= {"image-alt", "color-contrast"}
