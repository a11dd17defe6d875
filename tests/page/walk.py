"""Every screen of the page, one after the other, as trainer and as member: for axe-core and for pictures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from tests.page.test_browser import SOON

DOORS = ("enter", "leave")
#: What is tapped on a screen, one after the other, each a look of its own.
TABS = {
    "members?person=2": ("Settings card", "Sets", "Load", "Do you agree?", "Person and link"),
    "studio": ("Trainers", "Do you agree?", "Found and missed", "Proof", "Stations", "Cards", "Sign-in"),
}
#: Where the question about pain is answered first, so that the form below it is there.
ANSWERED = "film?machine=leg-extension"


def trainers(sets: Sequence[int]) -> tuple[str, ...]:
    """The screens of a trainer, with the review of these sets."""
    reviews = tuple(f"review?set={one}" for one in sets)
    return ("", "week", "members", "members?person=2", *reviews, "film?person=2", "tempo?person=2", "studio")


def members(sets: Sequence[int]) -> tuple[str, ...]:
    """The screens of a member, with the result of these sets."""
    return ("", "film", ANSWERED, "results", *(f"results?set={one}" for one in sets), "tempo")


def settled(page: Any) -> None:
    """Wait until the page has taken in what was done."""
    page.wait_for_selector('[data-testid="stApp"][data-test-script-state="notRunning"]', timeout=SOON)


def walk(page: Any, address: str, screens: Sequence[str]) -> Iterator[str]:
    """Open one screen after the other, and each of its tabs; gives the name of what stands there."""
    for screen in screens:
        page.goto(f"{address}/{screen}")
        settled(page)
        page.locator("h1").first.wait_for(timeout=SOON)
        if screen == ANSWERED:
            page.get_by_text("No", exact=True).click()
            page.get_by_role("button", name="Another machine").wait_for(timeout=SOON)
            settled(page)
        yield screen
        for tab in TABS.get(screen, ()):
            page.get_by_role("tab", name=tab, exact=True).click()
            settled(page)
            yield f"{screen}, {tab}"
